"""How the viewer looks at a frame, and the order for its picture."""

from __future__ import annotations

from inspector.picture.camera import Camera
from inspector.tui.columns import title_of
from inspector.tui.glyphs import Glyphs
from inspector.tui.painter import Painted
from inspector.tui.picture_screen import PictureScreen
from inspector.tui.scene import Scene, Source
from inspector.tui.session import Session
from inspector.tui.styles import counted


class ViewerBase(PictureScreen):
    """camera: None until the first picture is made."""

    def __init__(self, session: Session, glyphs: Glyphs, source: Source, row: int) -> None:
        super().__init__(session, glyphs, source, row)
        self.look = session.look
        self.behind = False
        self.marks = True
        self.parallel = False
        self.camera: Camera | None = None

    @property
    def wants_fine_cells(self) -> bool:
        return self.look.fine

    @property
    def no_words(self) -> str:
        finding = self.session.finding
        if finding is None:
            here = len(self.view.on_row(self.row))  # while it plays none of them is chosen
            return f"{counted(here, ('finding', 'findings')) if here else 'no finding'} on this frame"
        return f"{finding.severity.sign} {title_of(finding.check)}" if self.marks else "marks are off (x)"

    def state_words(self) -> str:
        return ", ".join(filter(None, [self.look.value, "reference behind" if self.behind else ""]))

    def order(self, *, moving: bool = False) -> Scene | None:
        if self.at is None or not self.readable:
            return None
        size = self.pane.size
        finding = self.session.finding if self.marks else None
        seen = (self.source, self.at, self.camera, self.look, self.cells, size.width, size.height)
        return Scene(*seen, self.behind, finding, moving)

    def show_picture(self, message: Painted) -> None:
        super().show_picture(message)
        if self.camera is None and isinstance(message.order, Scene):
            self.camera = message.order.camera
