"""A frame compared with another frame: a picture of how far the vertices moved, and the differences."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult

from inspector.errors import MeshqcError
from inspector.report.difference_words import BLOCK, difference_text, same_words
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.frame_difference import Difference
from inspector.tui import keys
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.compare_scene import CompareScene
from inspector.tui.pictures.comparison_frames import Against
from inspector.tui.pictures.painter import NotPainted, Painted
from inspector.tui.pictures.pair_scene import PairScene, half
from inspector.tui.pictures.render_modes import ComparisonMode, Look, Under
from inspector.tui.pictures.scene import Scene, Source
from inspector.tui.pictures.uv_figures import UvLayouts
from inspector.tui.pictures.uv_scene import UvScene
from inspector.tui.screens.camera_screen import CameraScreen
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.session import Session
from inspector.tui.styles import FAINT
from inspector.tui.view_state import PictureView
from inspector.tui.widgets.card import Card
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.overview import Overview
from inspector.tui.widgets.picture_pane import PicturePane
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.text_page import Page

_DIFFERENCES, _FEW_DIFFERENCES = 8, 3  # rows for the differences, below one picture and below two


class CompareScreen(CameraScreen):
    """A screen that compares each frame with another frame. The keys for the camera and the frames are the same as in
    the viewer."""

    BINDINGS = keys.bindings(keys.COMPARE)

    flips = False
    compared = ComparisonMode.DISTANCE

    def __init__(self, session: Session, glyphs: Glyphs, source: Source, row: int, against: Against) -> None:
        super().__init__(session, glyphs, source, row)
        self.against = against
        self.how_viewed = PictureView()
        self._card = Card()
        self._no_card = "the frames are still being compared"
        self._layouts = UvLayouts()

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
        sides = "" if self.compared is ComparisonMode.DISTANCE else f"{self.compared.value}, {self._here} | "
        return f"{sides or 'against '}{self.against.words}{moved}"

    @property
    def picture_columns(self) -> int:
        columns = self.pane.size.width
        return columns if self.compared is ComparisonMode.DISTANCE else half(columns)

    def order(self, *, moving: bool = False) -> CompareScene | None:  # type: ignore[override]
        if self.at is None or self.drawn is None:
            return None
        size = self.pane.size
        scene = CompareScene(
            self.source, self.at, self.against, self.how_viewed.camera, self.cells, size.width, size.height, moving
        )
        scene.pair = self._pair(self.at, moving=moving)
        return scene

    def _pair(self, at: int, *, moving: bool) -> PairScene | None:
        """Return the request for a picture of both frames side by side; None if distances are shown instead, or if the
        other frame doesn't exist."""
        if self.compared is ComparisonMode.DISTANCE:
            return None
        try:
            other = self.against.source, self.against.place(at)
        except MeshqcError:
            return None  # painting reports why
        columns, wall = self.pane.size.width, self.glyphs.wall
        if self.compared is ComparisonMode.UVS:
            return PairScene(self._map(self.source, at), self._map(*other), columns, wall, moving)
        return PairScene(self._scene(self.source, at), self._scene(*other), columns, wall, moving)

    def _map(self, source: Source, at: int) -> UvScene:
        columns, rows = self.picture_columns, self.pane.size.height
        return UvScene(source, self._layouts, at, None, Under.NOTHING, self.cells, columns, rows)

    def _scene(self, source: Source, at: int) -> Scene:
        look = Look.TEXTURED if self.compared is ComparisonMode.TEXTURED else Look.SHADED
        columns, rows = self.picture_columns, self.pane.size.height
        whole = self._opening and self.how_viewed.fitted
        return Scene(source, at, self.how_viewed.camera, look, self.cells, columns, rows, whole=whole)

    def show_picture(self, message: Painted) -> None:
        super().show_picture(message)
        if isinstance(message.order, CompareScene):
            self.take_first(message.order.camera)
            self._opening = False
            self._show_card(_difference_card(message.order.found, message.order.shades, self._here, self.against.words))

    async def action_look(self) -> None:
        kinds = list(ComparisonMode)

        def done(answer: int | None) -> None:
            if answer is not None:
                self.compared, self._opening = kinds[answer], True
                rows = _DIFFERENCES if self.compared is ComparisonMode.DISTANCE else _FEW_DIFFERENCES
                self.query_one("#differences").styles.height = rows
                self.show_place()
                self.draw()

        lines = [one.value for one in kinds]
        await self.app.push_screen(ChoiceDrawer(self.glyphs, "display", lines, kinds.index(self.compared)), done)

    @property
    def _here(self) -> str:
        return f"frame {frame_text(self.view.rows[self.row].number)}"

    def _show_card(self, card: Card, none: str = "") -> None:
        """Show a card. If the card has no text, `action_read` shows the message in `none`."""
        self._card, self._no_card = card, none
        self.query_one("#differences", Page).show(card)

    def draw(self, *, moving: bool = False) -> None:
        super().draw(moving=moving)
        if self.at is None or self.drawn is None:
            self._show_card(Card(), "there is no frame to compare")

    def on_not_painted(self, message: NotPainted) -> None:
        super().on_not_painted(message)
        self.query_one("#picture-words", Rule).title = ""
        self._show_card(Card(), message.reason)

    async def action_read(self) -> None:
        if not self._card.paragraphs:
            self.say(self._no_card)
            return
        title = f"{self._here} and {self.against.words}: differences"
        await self.app.push_screen(TextScreen(self.session, self.glyphs, title, self._card))


def _difference_card(found: Sequence[Difference], shades: str, here: str, there: str) -> Card:
    """Make a card about the differences between two frames."""
    card = Card()
    if all(one.same for one in found):
        card.add("", "The frames are the same: no block differs.")
    if shades:
        card.add("shades:", shades, hang=True)
    for one in found:
        if not one.same:
            card.add(f"x {one.block:<{BLOCK}}", difference_text(one), hang=True)
    if same := same_words(found):
        card.add(f"= {'the same':<{BLOCK}}", same, style=FAINT, hang=True)
    card.add(
        "",
        f"{here} compared with {there}. Elements and lines are numbered from 1; line numbers refer to {here}.",
        style=FAINT,
    )
    return card
