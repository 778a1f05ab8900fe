"""One of a few lines is chosen: by its number, or with the cursor."""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from textual.geometry import Size
from textual.widget import Widget

from inspector.tui import keys
from inspector.tui.drawers.drawer import Drawer
from inspector.tui.glyphs import Glyphs
from inspector.tui.widgets.cursor_list import CursorList


class ChoiceList(CursorList):
    """Numbered lines."""

    def __init__(self, glyphs: Glyphs, lines: Sequence[str]) -> None:
        super().__init__(glyphs)
        self._lines = lines

    def row_count(self) -> int:
        return len(self._lines)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - rows alone tell
        """Most of the screen at most: title and keys have to be seen as well."""
        return min(len(self._lines), max(1, viewport.height * 6 // 10))

    def row(self, at: int, width: int) -> list[Segment]:
        number = str((at + 1) % 10) if at < 10 else " "
        return [Segment(self.glyphs.fit(f"{number} {self._lines[at]}", width))]


class ChoiceDrawer(Drawer[int]):
    """Answers with the place of the chosen line, None for no change."""

    BINDINGS = keys.bindings(keys.CHOICE)

    def __init__(self, glyphs: Glyphs, title: str, lines: Sequence[str], now: int = 0) -> None:
        super().__init__(glyphs, title, keys.CHOICE)
        self._list = ChoiceList(glyphs, lines)
        self._now = now

    def body(self) -> list[Widget]:
        return [self._list]

    def on_mount(self) -> None:
        self.set_focus(self._list)
        self._list.put_cursor(self._now)

    def action_choose(self, number: int) -> None:
        """Number 0 is the tenth line."""
        at = (number - 1) % 10
        if at < self._list.row_count():
            self.dismiss(at)

    def action_choose_cursor(self) -> None:
        self.dismiss(self._list.cursor)
