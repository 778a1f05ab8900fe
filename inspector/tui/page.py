"""Text that is longer than its pane: scrolled by the same keys as a list."""

from __future__ import annotations

from rich.text import Text
from textual.containers import VerticalScroll
from textual.widgets import Static

from inspector.tui import keys


class Page(VerticalScroll, can_focus=True):
    """Wraps a text to its width. No scrollbar: it costs more than the text on a slow link."""

    BINDINGS = keys.bindings(keys.LIST)

    def __init__(self, text: Text | None = None, id: str | None = None, can_focus: bool = True) -> None:
        self._body = Static(text or Text(), markup=False)
        super().__init__(self._body, id=id, can_focus=can_focus)
        self._shown = text

    def show(self, text: Text) -> None:
        if text != self._shown:
            self._shown = text
            self._body.update(text)

    def action_move(self, rows: int) -> None:
        self.scroll_relative(y=rows, animate=False)

    def action_page(self, pages: int) -> None:
        self.scroll_relative(y=pages * max(1, self.size.height - 1), animate=False)

    def action_edge(self, side: int) -> None:
        self.scroll_to(y=0 if side < 0 else self.max_scroll_y, animate=False)
