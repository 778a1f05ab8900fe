"""The frames of a sequence as a table. Only the visible rows and a sample of rows, which determines the widths, are
formatted."""

from __future__ import annotations

from collections.abc import Collection
from fractions import Fraction

from rich.segment import Segment

from inspector.report.frame_rows import Place, SequenceView
from inspector.tui.columns import COLUMN_BY_ID, COLUMNS, Arrangement, Column, FrameValues, arrange, severity_on
from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import PLAIN, STRONG, style_of
from inspector.tui.widgets.cursor_list import CursorList

_WIDEST_FILE, _LEAST_FILE = 40, 16  # maximum cells for a file name; minimum, before other columns are left out
LEFT_OUT_WHEN_NARROW = ("materials", "normals", "drift", "size", "vertices", "faces", "uvs", "file")
"""Columns that a narrow table leaves out, in this order."""
_FILE = COLUMNS.index(COLUMN_BY_ID["file"])
# Minimum number of rows whose text determines the width of a column, if there are that many rows. The width for frame
# numbers is determined from all rows. Longer text is cut with a sign.
_SAMPLE = 400


class FrameTable(CursorList):
    """A table of frames. `cursor` is an index into the filtered rows; `frame_row` is the index, in the view, of the row
    under the cursor."""

    def __init__(self, glyphs: Glyphs, id: str | None = None) -> None:
        super().__init__(glyphs, id)
        self._values: FrameValues | None = None
        self._order: list[int] = []
        self._arrangement = Arrangement()
        self._marks: Collection[Fraction] = ()
        self._widths: list[int] = []
        self._short_name = 0  # cells of a file name without the stem of its sequence

    def show(self, view: SequenceView, arrangement: Arrangement, marks: Collection[Fraction] = ()) -> None:
        """Show a view, with a sign on the marked frames. The cursor stays on its frame, if that frame is still
        shown."""
        number, which = self._place() or (None, 0)
        self._values = FrameValues(view)
        self._arrangement = arrangement
        self._marks = marks
        self._order = arrange(self._values, arrangement)
        self._widths = self._measure()
        rows = view.rows_by_number.get(number, []) if number is not None else []
        row = rows[min(which, len(rows) - 1)] if rows else None
        if row in self._order:
            self.set_reactive(CursorList.cursor, self._order.index(row))
        self.rows_changed()

    def _place(self) -> Place | None:
        """Return the key of the frame under the cursor; None if there are no rows."""
        row = self.frame_row
        return None if row is None or self._values is None else self._values.view.place_of(row)

    @property
    def order(self) -> list[int]:
        """Indices, in the view, of the rows that match the filter, in the order of the table."""
        return self._order

    @property
    def frame_row(self) -> int | None:
        """Index, in the view, of the row under the cursor; None if there are no rows."""
        return self._order[self.cursor] if self.cursor < len(self._order) else None

    @property
    def rows_on_screen(self) -> range:
        """The smallest range of the view's rows that includes all rows on the screen."""
        shown = self._order[self.top : self.top + self.shown_rows]
        return range(min(shown), max(shown) + 1) if shown else range(0)

    def go_to(self, frame_row: int) -> bool:
        """Put the cursor on a row of the view, and return True; return False if the filter hides that row."""
        if frame_row not in self._order:
            return False
        self.put_cursor(self._order.index(frame_row))
        return True

    def row_count(self) -> int:
        return len(self._order)

    def empty(self) -> str:
        shown = self._arrangement
        filtered = shown.filter != "all" or shown.check
        return "no frames match the filter; f: change the filter" if filtered else "no frames"

    def _measure(self) -> list[int]:
        values = self._values
        assert values is not None
        total = len(values.view.rows)
        sample = range(0, total, max(1, total // _SAMPLE))
        widths = []
        for column in COLUMNS[:-1]:
            # A frame number that is cut would look like a different number.
            rows, sign = (range(total), bool(self._marks)) if column.id == "frame" else (sample, False)
            longest = max((len(column.text(values, row)) for row in rows), default=0) + sign
            widths.append(max(column.narrow, min(longest, _WIDEST_FILE)))
        self._short_name = max((len(self._without_stem(row)) for row in sample), default=0)
        if widths[_FILE] == _WIDEST_FILE:
            widths[_FILE] = min(_WIDEST_FILE, max(COLUMNS[_FILE].narrow, self._short_name))
        return widths

    def _without_stem(self, row: int) -> str:
        """Return the file name of a row. If the name begins with the stem, the sign for cut text replaces the stem,
        because the list of sequences already shows the stem."""
        assert self._values is not None
        name, stem = COLUMN_BY_ID["file"].text(self._values, row), self._values.view.sequence.stem.display
        return self.glyphs.more + name.removeprefix(stem) if stem and name.startswith(stem) else name

    def _fitted(self, width: int) -> list[tuple[Column, int]]:
        """Return the columns that fit, and their widths in cells.

        If there is too little space, file names are first shown without the stem of the sequence, then cut. If that is
        not enough, whole columns are left out. The last column takes the remaining width.
        """
        widths = dict(zip((column.id for column in COLUMNS[:-1]), self._widths, strict=True))
        last = COLUMNS[-1]

        def missing() -> int:
            return sum(widths.values()) + len(widths) + last.narrow - width

        if missing() > 0:
            widths["file"] = min(widths["file"], max(COLUMN_BY_ID["file"].narrow, self._short_name))
        if missing() > 0:
            widths["file"] = max(min(widths["file"], _LEAST_FILE), widths["file"] - missing())
        for column in LEFT_OUT_WHEN_NARROW:
            if missing() > 0:
                del widths[column]
        left = max(1, width - sum(widths.values()) - len(widths))
        return [*((COLUMN_BY_ID[column], cells) for column, cells in widths.items()), (last, left)]

    def header(self, width: int) -> list[Segment]:
        if not self._widths:
            return []
        cells = []
        for column, cells_wide in self._fitted(width - 2):
            text = self.glyphs.fit(column.title, cells_wide, right=not column.left)
            cells.append(Segment(text, STRONG if column.id == self._arrangement.column else PLAIN))
            cells.append(Segment(" "))
        return [Segment("  "), *cells]

    def row(self, at: int, width: int) -> list[Segment]:
        values = self._values
        assert values is not None
        row = self._order[at]
        severity = severity_on(values.view, row)
        segments: list[str] = []
        *fitted, (last, _) = self._fitted(width)
        for column, cells_wide in fitted:
            text = column.text(values, row)
            if column.id == "file" and len(text) > cells_wide:
                text = self._without_stem(row)
            if not segments and values.view.rows[row].number in self._marks:
                text = f"*{text}"
            segments.append(self.glyphs.fit(text, cells_wide, right=not column.left, keep_end=column.left) + " ")
        words = self.glyphs.fit(last.text(values, row), max(1, width - sum(map(len, segments))))
        return [Segment("".join(segments)), Segment(words[:1], style_of(severity)), Segment(words[1:])]
