"""The keys that work here, in the lowest rows."""

from __future__ import annotations

from rich.cells import cell_len
from rich.text import Text
from textual.geometry import Size
from textual.widget import Widget

from inspector.tui.keys import Key
from inspector.tui.styles import FAINT, STRONG


class KeyFooter(Widget):
    """As many rows as the keys need at this width; never a cut label."""

    def __init__(self, keys: tuple[Key, ...]) -> None:
        super().__init__()
        self.table = keys
        self._keys = [(key.pair or key.shown, key.label) for key in keys if key.label]

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - the width tells
        return len(self._rows(width))

    def _rows(self, width: int) -> list[list[tuple[str, str]]]:
        rows: list[list[tuple[str, str]]] = [[]]
        used = 0
        for shown, label in self._keys:
            needed = cell_len(shown) + cell_len(label) + 3
            if rows[-1] and used + needed - 2 > width:
                rows.append([])
                used = 0
            rows[-1].append((shown, label))
            used += needed
        return rows

    def render(self) -> Text:
        text = Text(no_wrap=True)
        for at, row in enumerate(self._rows(self.size.width)):
            text.append("\n" if at else "")
            for place, (shown, label) in enumerate(row):
                text.append("  " if place else "").append(shown, STRONG).append(f" {label}", FAINT)
        return text
