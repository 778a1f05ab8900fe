"""How the viewer looks at a frame, and the order for its picture."""

from __future__ import annotations

from inspector.picture.camera import Camera
from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.painter import Painted
from inspector.tui.pictures.scene import Scene, Source
from inspector.tui.screens.picture_screen import PictureScreen
from inspector.tui.session import Session
from inspector.tui.styles import counted
from inspector.tui.view_state import Sight
from inspector.tui.widgets.columns import title_of


class ViewerBase(PictureScreen):
    sight: Sight
    _fitting: tuple[Camera, int | None] | None = None

    def __init__(self, session: Session, glyphs: Glyphs, source: Source, row: int) -> None:
        super().__init__(session, glyphs, source, row)
        self.look = session.look
        self.sight = session.sights_of(self.view).viewer

    @property
    def wants_fine_cells(self) -> bool:
        return self.look.fine

    @property
    def no_words(self) -> str:
        finding = self.session.finding
        if finding is None:
            here = len(self.view.on_row(self.row))  # while it plays none of them is chosen
            return f"{counted(here, ('finding', 'findings')) if here else 'no finding'} on this frame"
        return f"{finding.severity.sign} {title_of(finding.check)}" if self.sight.marks else "marks are off (x)"

    def state_words(self) -> str:
        return ", ".join(filter(None, [self.look.value, "reference behind" if self.sight.behind else ""]))

    def order(self, *, moving: bool = False) -> Scene | None:
        if self.at is None or not self.readable:
            return None
        size = self.pane.size
        finding = self.session.finding if self.sight.marks else None
        seen = (self.source, self.at, self.sight.camera, self.look, self.cells, size.width, size.height)
        return Scene(*seen, self.sight.behind, finding, moving)

    def show_picture(self, message: Painted) -> None:
        super().show_picture(message)
        if isinstance(message.order, Scene):
            self.take_first(message.order.camera)

    def take_first(self, camera: Camera | None) -> None:
        """The camera of a first picture, that fits the frame."""
        if self.sight.camera is None and camera is not None:
            self.take_camera(camera, fits=True)

    def take_camera(self, camera: Camera, *, fits: bool) -> None:
        self.sight.camera = camera
        self._fitting = (camera, self.at) if fits else None

    def only_fitted(self, camera: Camera) -> bool:
        """Whether the camera was made to fit a frame, and not moved by hand."""
        return self._fitting is not None and self._fitting[0] is camera

    def fits(self, camera: Camera) -> bool:
        """Whether the camera was made to fit the frame that is shown."""
        return self._fitting == (camera, self.at)

    def see_all(self) -> None:
        """Before it plays: a camera that only fits a frame is made to fit all of them, so that nothing moves out of the
        picture."""
        raise NotImplementedError
