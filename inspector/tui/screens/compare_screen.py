"""A frame held against another one: a picture of the way between them, and what differs."""

from __future__ import annotations

from textual.app import ComposeResult

from inspector.sequence.discovery.settings import frame_text
from inspector.tui import keys
from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.compare_scene import CompareScene
from inspector.tui.pictures.comparison_frames import Against
from inspector.tui.pictures.painter import NotPainted, Painted
from inspector.tui.pictures.scene import Source
from inspector.tui.screens.camera_screen import CameraScreen
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.session import Session
from inspector.tui.view_state import PictureView
from inspector.tui.widgets.card import Card
from inspector.tui.widgets.difference_text import difference_card
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.overview import Overview
from inspector.tui.widgets.picture_pane import PicturePane
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.text_page import Page


class CompareScreen(CameraScreen):
    """The camera's and the frames' keys are the viewer's."""

    BINDINGS = keys.bindings(keys.COMPARE)

    flips = False

    def __init__(self, session: Session, glyphs: Glyphs, source: Source, row: int, against: Against) -> None:
        super().__init__(session, glyphs, source, row)
        self.against = against
        self.sight = PictureView()
        self._card = Card()

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, id="picture-title")
        yield PicturePane(self.glyphs)
        yield (words := Rule(self.glyphs, id="picture-words"))
        yield Page(self.glyphs, words, more="enter: more", id="differences", can_focus=False)
        yield Overview(self.glyphs)
        yield KeyFooter(keys.COMPARE)

    @property
    def no_words(self) -> str:
        return ""

    def state_words(self) -> str:
        moved = "" if self.arrows_turn else ", arrows move"
        return f"against {self.against.words}{moved}"

    def order(self, *, moving: bool = False) -> CompareScene | None:  # type: ignore[override]
        if self.at is None or self.drawn is None:
            return None
        size = self.pane.size
        return CompareScene(
            self.source, self.at, self.against, self.sight.camera, self.cells, size.width, size.height, moving
        )

    def show_picture(self, message: Painted) -> None:
        super().show_picture(message)
        if isinstance(message.order, CompareScene):
            self.take_first(message.order.camera)
            self._tell(difference_card(message.order.found, message.order.shades, self._here, self.against.words))

    @property
    def _here(self) -> str:
        return f"frame {frame_text(self.view.rows[self.row].number)}"

    def _tell(self, card: Card) -> None:
        self._card = card
        self.query_one("#differences", Page).show(card)

    def draw(self, *, moving: bool = False) -> None:
        super().draw(moving=moving)
        if self.at is None or self.drawn is None:
            self._tell(Card())

    def on_not_painted(self, message: NotPainted) -> None:
        super().on_not_painted(message)
        self.query_one("#picture-words", Rule).title = ""
        self._tell(Card())

    async def action_read(self) -> None:
        """What differs in full."""
        title = f"{self._here} and {self.against.words}: what differs"
        await self.app.push_screen(TextScreen(self.session, self.glyphs, title, self._card))
