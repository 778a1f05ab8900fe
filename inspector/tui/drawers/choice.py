"""A drawer in which the user chooses a line by its number or letter, or with the cursor."""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from textual.events import Key
from textual.geometry import Size
from textual.widget import Widget

from inspector.tui import keys
from inspector.tui.drawers.drawer import Drawer
from inspector.tui.glyphs import Glyphs
from inspector.tui.widgets.cursor_list import CursorList


class ChoiceList(CursorList):
    """Lines, each with the key that chooses it.

    Args:
        letters: The keys, in the order of the lines. Lines beyond the last key have no key.
    """

    def __init__(self, glyphs: Glyphs, lines: Sequence[str], letters: Sequence[str]) -> None:
        super().__init__(glyphs)
        self._lines = lines
        self._letters = letters

    def row_count(self) -> int:
        return len(self._lines)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - the rows decide
        """Return the height: at most 60 % of the screen's height, so that the title and the keys stay visible."""
        return min(len(self._lines), max(1, viewport.height * 6 // 10))

    def row(self, at: int, width: int) -> list[Segment]:
        key = self._letters[at] if at < len(self._letters) else " "
        return [Segment(self.glyphs.fit(f"{key} {self._lines[at]}", width))]


class ChoiceDrawer(Drawer[int]):
    """A drawer that returns the index of the chosen line, or None if the user chooses none.

    Args:
        now: Index of the line on which the cursor starts.
        letters: The keys, in the order of the lines. Lines beyond the last key have no key.
    """

    BINDINGS = keys.bindings(keys.CHOICE)

    def __init__(
        self, glyphs: Glyphs, title: str, lines: Sequence[str], now: int = 0, letters: Sequence[str] = "1234567890"
    ) -> None:
        super().__init__(glyphs, title, keys.CHOICE)
        self._letters = letters
        self._list = ChoiceList(glyphs, lines, letters)
        self._now = now

    def body(self) -> list[Widget]:
        return [self._list]

    def on_mount(self) -> None:
        self.set_focus(self._list)
        self._list.put_cursor(self._now)

    def on_key(self, event: Key) -> None:
        if event.character is not None and event.character.isalpha():
            self.action_choose(event.character)

    def action_choose(self, key: int | str) -> None:
        """Choose the line with this number or letter, if it exists."""
        if str(key) in self._letters and (at := self._letters.index(str(key))) < self._list.row_count():
            self.dismiss(at)

    def action_choose_cursor(self) -> None:
        self.dismiss(self._list.cursor)
