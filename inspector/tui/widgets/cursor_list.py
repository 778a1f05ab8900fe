"""A list of rows with a cursor. Only visible rows are drawn, so 10,000 rows take no more time than a few rows."""

from __future__ import annotations

from rich.segment import Segment
from textual.geometry import Region
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from inspector.tui import keys
from inspector.tui.glyphs import Glyphs, beyond_words
from inspector.tui.styles import CURSOR, FAINT, PLAIN, STRONG, strip_of
from inspector.tui.widgets.rule import Rule


class CursorList(Widget, can_focus=True):
    """A list with a cursor. Subclasses define the number of rows and their text.

    The row under the cursor is marked with `>` (see `marks_cursor`), and is in reverse video if the list has the focus.
    The first visible row has a sign if there are more rows above it. The last visible row has a sign if there are more
    rows below it.

    Attributes:
        cursor: Index of the row under the cursor.
        glyphs: The characters for the rows.
        top: Index of the first visible row.
        rule: The rule above the list, whose note states where there are more rows; None if there is no such rule.
    """

    BINDINGS = keys.bindings(keys.LIST)
    cursor: reactive[int] = reactive(0, repaint=False)

    class Moved(Message):
        """The user moved the cursor."""

        def __init__(self, source: CursorList) -> None:
            super().__init__()
            self.source = source

        @property
        def control(self) -> CursorList:
            """The list that posted the message, for Textual's selectors."""
            return self.source

    def __init__(self, glyphs: Glyphs, id: str | None = None) -> None:
        super().__init__(id=id)
        self.glyphs = glyphs
        self.top = 0
        self.rule: Rule | None = None

    def row_count(self) -> int:
        """Return the number of rows."""
        raise NotImplementedError

    def row(self, at: int, width: int) -> list[Segment]:
        """Return the text of row `at`, for a width of `width` cells."""
        raise NotImplementedError

    def header(self, width: int) -> list[Segment] | None:  # noqa: ARG002 - for lists with a header
        """Return the text of the header, the row above the list, for a width of `width` cells; None if the list has no
        header."""
        return None

    def empty(self) -> str:
        """Return the text to show if there are no rows."""
        return ""

    @property
    def marks_cursor(self) -> bool:
        """Whether the row under the cursor is marked with `>`."""
        return True

    @property
    def shown_rows(self) -> int:
        """Number of rows that fit on the screen."""
        return max(1, self.size.height - self._head)

    @property
    def _head(self) -> int:
        return int(self.header(0) is not None)

    def rows_changed(self) -> None:
        """Keep the cursor and the visible part within the rows. Call this after the rows have changed."""
        self.set_reactive(CursorList.cursor, min(self.cursor, max(0, self.row_count() - 1)))
        self._scroll_to_cursor()
        self._show_more_signs()
        self.refresh()

    def put_cursor(self, at: int) -> None:
        """Move the cursor without posting a message. If `at` is outside the list, move the cursor to the first or the
        last row."""
        self.cursor = max(0, min(at, self.row_count() - 1))

    def watch_cursor(self, old: int, new: int) -> None:
        if self._scroll_to_cursor():
            self._show_more_signs()
            self.refresh()
            return
        for at in (old, new):
            self.refresh(Region(0, at - self.top + self._head, self.size.width, 1))

    def on_resize(self) -> None:
        if self._scroll_to_cursor():
            self.refresh()
        self._show_more_signs()

    @property
    def _below(self) -> bool:
        return self.top + self.shown_rows < self.row_count()

    def _show_more_signs(self) -> None:
        if self.rule is not None:
            self.rule.note = beyond_words(self.top > 0, self._below)

    def _sign(self, at: int) -> str:
        """Return the sign with which a row shows that the list continues; an empty string if the row has no such sign.

        The first visible row has a sign if there are more rows above it. The last visible row has a sign if there are
        more rows below it.
        """
        if at == self.top > 0:
            return self.glyphs.beyond[0]
        return self.glyphs.beyond[1] if self._below and at == self.top + self.shown_rows - 1 else ""

    def on_focus(self) -> None:
        self.refresh()

    def on_blur(self) -> None:
        self.refresh()

    def action_move(self, rows: int) -> None:
        self._move_to(self.cursor + rows)

    def action_page(self, pages: float) -> None:
        rows = max(1, int(abs(pages) * (self.shown_rows - 1)))
        self._move_to(self.cursor + (rows if pages > 0 else -rows))

    def action_edge(self, side: int) -> None:
        self._move_to(0 if side < 0 else self.row_count() - 1)

    def _move_to(self, at: int) -> None:
        before = self.cursor
        self.put_cursor(at)
        if self.cursor != before:
            self.post_message(self.Moved(self))

    def _scroll_to_cursor(self) -> bool:
        """If the cursor is out of view, scroll so that it is in the middle, and return True; otherwise, return
        False."""
        if not self.size.height:  # not laid out yet: `on_resize` follows, and then it is known how many rows fit
            return False
        rows, before = self.shown_rows, self.top
        if not self.top <= self.cursor < self.top + rows:
            self.top = self.cursor - rows // 2
        self.top = max(0, min(self.top, self.row_count() - rows))
        return self.top != before

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        if self._head and y == 0:
            return strip_of(self.header(width) or [], width)
        at = self.top + y - self._head
        if at >= self.row_count():
            said = self.empty() if at == 0 else ""
            return strip_of([Segment(self.glyphs.fit(said and f"  {said}", width), FAINT)], width)
        mark = f"{'>' if at == self.cursor and self.marks_cursor else ''}{self._sign(at)}"
        reversed_row = at == self.cursor and self.has_focus  # in a reversed row, a bold sign would look brighter
        style = PLAIN if reversed_row else STRONG
        strip = strip_of([Segment(f"{mark:<2}", style if mark else PLAIN), *self.row(at, width - 2)], width)
        return strip.apply_style(CURSOR) if reversed_row else strip
