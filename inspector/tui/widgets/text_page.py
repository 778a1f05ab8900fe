"""A page of text that may be longer than its pane. It is scrolled with the same keys as a list."""

from __future__ import annotations

from rich.text import Text
from textual.containers import VerticalScroll
from textual.geometry import Size
from textual.widget import Widget

from inspector.report.text_style import TextStyle
from inspector.tui import keys
from inspector.tui.glyphs import Glyphs, beyond_words
from inspector.tui.widgets.card import Card
from inspector.tui.widgets.rule import Rule


class CardView(Widget):
    """A widget that shows a card, wrapped to the width of the widget.

    Attributes:
        card: The card.
    """

    def __init__(self, glyphs: Glyphs, card: Card) -> None:
        super().__init__()
        self._ascii = glyphs.ascii
        self.card = card

    def _text(self, width: int) -> Text:
        return self.card.text(TextStyle(max(1, width), ascii=self._ascii))

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - the width counts
        return self._text(width).plain.count("\n") + 1

    def render(self) -> Text:
        return self._text(self.size.width)


class Page(VerticalScroll, can_focus=True):
    """A page that shows a card.

    The page has no scrollbar. On a slow connection, a scrollbar would take longer to send than the text.

    Args:
        rule: The rule above the page. The rule shows a note if part of the text is not visible.
        more: The note on the rule, for example the key that shows the whole text. If `more` is empty, the note states
            the directions in which there is more text.
    """

    BINDINGS = keys.bindings(keys.LIST)

    def __init__(
        self,
        glyphs: Glyphs,
        rule: Rule,
        card: Card | None = None,
        *,
        more: str = "",
        id: str | None = None,
        can_focus: bool = True,
    ) -> None:
        self._view = CardView(glyphs, card or Card())
        self._rule = rule
        self._more = more
        super().__init__(self._view, id=id, can_focus=can_focus)

    def on_mount(self) -> None:
        self.watch(self, "virtual_size", self._show_more_signs, init=False)

    def on_resize(self) -> None:
        self._show_more_signs()
        self.call_after_refresh(self._show_more_signs)  # until then, the text may still have its previous width

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        super().watch_scroll_y(old_value, new_value)
        self._show_more_signs()

    def _show_more_signs(self) -> None:
        words = beyond_words(self.scroll_offset.y > 0, self.scroll_offset.y < self.max_scroll_y)
        self._rule.note = words and (self._more or words)

    def show(self, card: Card) -> None:
        """Show another card. Scroll to its top, unless it begins with the same paragraph as the previous card."""
        if card != self._view.card:
            same_start = card.paragraphs[:1] == self._view.card.paragraphs[:1]
            self._view.card = card
            self._view.refresh(layout=True)
            if not same_start:
                self.action_edge(-1)

    def action_move(self, rows: int) -> None:
        self.scroll_relative(y=rows, animate=False)

    def action_page(self, pages: float) -> None:
        rows = max(1, int(abs(pages) * (self.size.height - 1)))
        self.scroll_relative(y=rows if pages > 0 else -rows, animate=False)

    def action_edge(self, side: int) -> None:
        self.scroll_to(y=0 if side < 0 else self.max_scroll_y, animate=False)
