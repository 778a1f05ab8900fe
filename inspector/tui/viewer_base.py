"""What the viewer's parts share: the frame that is shown, how it is looked at, and the order for its picture."""

from __future__ import annotations

from textual.app import ComposeResult

from inspector.picture.camera import Camera
from inspector.sequence.materials import MaterialBook
from inspector.sequence.scope import Scope
from inspector.sequence.settings import frame_text
from inspector.tui import keys
from inspector.tui.cells import Cells, cells_for
from inspector.tui.colours import Depth, depth_of
from inspector.tui.footer import KeyFooter
from inspector.tui.frame_store import FrameStore
from inspector.tui.glyphs import Glyphs
from inspector.tui.looks import Look
from inspector.tui.overview import Overview
from inspector.tui.painter import NotPainted, Painted, Painter
from inspector.tui.picture_pane import PicturePane
from inspector.tui.rule import Rule
from inspector.tui.scene import Scene, Source
from inspector.tui.screen import SessionScreen
from inspector.tui.session import Session
from inspector.tui.textures import Textures
from inspector.tui.view import SequenceView


class ViewerBase(SessionScreen):
    """row: of the view, the frame that is shown. camera: None until there is a box to look at."""

    def __init__(self, session: Session, glyphs: Glyphs, view: SequenceView, row: int) -> None:
        super().__init__(session, glyphs)
        book = MaterialBook(Scope(session.root, session.settings.textures))
        self.view = view
        self.source = Source(view, FrameStore(view), Textures(book))
        self.row = row
        self.look = Look.SHADED
        self.behind = False
        self.marks = True
        self.parallel = False
        self.other_cells = False
        self.camera: Camera | None = None

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, id="viewer-title")
        yield PicturePane(self.glyphs)
        yield Rule(self.glyphs, id="viewer-words")
        yield Overview(self.glyphs)
        yield KeyFooter(keys.VIEWER)

    def on_mount(self) -> None:
        self.painter = Painter(self.post_message, self.work)
        self.pane = self.query_one(PicturePane)
        self.show_place()

    @property
    def at(self) -> int | None:
        """Place of the frame in the view's facts, None for a frame without a file."""
        return self.view.rows[self.row].at

    @property
    def cells(self) -> Cells:
        """Lines and dots are drawn in the finest cells; so are shades where there are no colours to make them."""
        depth = depth_of(self.app.console.color_system, self.app.no_color)
        fine = self.look.fine or depth is Depth.NONE
        return cells_for(depth, self.glyphs.ascii, dots=fine is not self.other_cells)

    @property
    def aspect(self) -> float:
        width, height = self.cells.pixels(self.pane.size.width, self.pane.size.height)
        return width / max(1, height)

    def scene(self, *, moving: bool = False) -> Scene | None:
        """The order for what is to be seen now; None where there is nothing."""
        size, at = self.pane.size, self.at
        if at is None or not self.view.facts[at].readable:
            return None
        finding = self.session.finding if self.marks else None
        return Scene(
            self.source, at, self.camera, self.look, self.cells, size.width, size.height, self.behind, finding, moving
        )

    def draw(self, *, moving: bool = False) -> None:
        """Have the picture made."""
        if not self.pane.size.height:
            return
        scene = self.scene(moving=moving)
        if scene is not None:
            self.painter.ask(scene)
            return
        self.painter.forget()
        lacking = self.at is None
        self.pane.say("no file for this frame" if lacking else "nothing to draw: this frame can't be read")
        self.query_one("#viewer-words", Rule).title = self._no_marks

    def say(self, words: str) -> None:
        rule = self.query_one("#viewer-title", Rule)
        rule.note = self.glyphs.text(words) or self.state_words()

    @property
    def _no_marks(self) -> str:
        return "no finding on this frame" if self.session.finding is None else "marks are off (x)"

    def on_picture_pane_resized(self) -> None:
        self.draw()

    def on_painted(self, message: Painted) -> None:
        if self.camera is None and isinstance(message.order, Scene):
            self.camera = message.order.camera
        self.pane.show(message.strips)
        self.query_one("#viewer-words", Rule).title = message.words or self._no_marks

    def on_not_painted(self, message: NotPainted) -> None:
        self.pane.say(message.reason)

    def show_place(self) -> None:
        """Everything about the frame but its picture."""
        number = frame_text(self.view.rows[self.row].number)
        name = self.view.sequence.pattern.display
        rule = self.query_one("#viewer-title", Rule)
        rule.title = f"{name}  frame {number}"
        rule.note = self.state_words()
        self.query_one(Overview).show(self.view, self.row, self.session.chosen, "")

    def state_words(self) -> str:
        """How it is looked at."""
        return ", ".join(filter(None, [self.look.value, "reference behind" if self.behind else ""]))

    def go_to_row(self, row: int, *, moving: bool = False, choose: bool = True) -> None:
        """Show another frame. choose: with a finding of its own, if the chosen one isn't on it."""
        self.row = row
        if choose:
            self.session.choose_for(row)
        self.show_place()
        self.draw(moving=moving)
