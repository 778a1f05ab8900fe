"""The strip: the whole sequence as one row of signs, which shows where there are problems."""

from __future__ import annotations

import numpy as np
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget

from inspector.report.frame_rows import NOTHING, SequenceView, severity_of
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import CURSOR, FAINT, SHARED_SIGN, sign_of, strip_of, style_of

_CELLS_FIRST = 40  # cells of the strip that take precedence over the note
_MARKED = Style(underline=True)


class Overview(Widget):
    """A row of signs. The sign of the frame under the cursor is in reverse video. The signs of the chosen finding's
    frames are underlined. Until the sequence is checked, a progress bar shows which frames have been read."""

    def __init__(self, glyphs: Glyphs, id: str | None = None) -> None:
        super().__init__(id=id)
        self._glyphs = glyphs
        self._view: SequenceView | None = None
        self._row: int | None = None
        self._finding: int | None = None
        self._note = ""

    def show(self, view: SequenceView, row: int | None, finding: int | None, note: str) -> None:
        """Show a sequence, with `note` on the right.

        If the note doesn't fit, only the part before its first comma is shown. If this part doesn't fit either, no note
        is shown.
        """
        now = (view, row, finding, note)
        if now != (self._view, self._row, self._finding, self._note):
            self._view, self._row, self._finding, self._note = now
            self.refresh()

    def neighbour(self, row: int, step: int) -> int:
        """Return the first row of the next (`step` 1) or the previous (-1) cell. If there is no such cell, return the
        first row of the current cell."""
        if self._view is None or not self._view.rows:
            return row
        starts = self._starts()
        cell = int(np.searchsorted(starts, row, "right")) - 1
        return int(starts[max(0, min(cell + step, len(starts) - 1))])

    def _ends(self) -> tuple[str, str]:
        rows = self._view.rows if self._view else ()
        return (frame_text(rows[0].number), frame_text(rows[-1].number)) if rows else ("", "")

    def _starts(self) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
        """Return the first row of each cell, (cells,)."""
        rows = len(self._view.rows) if self._view else 0
        first, last = self._ends()
        room = self.size.width - 5 - len(first) - len(last)
        beside = room - len(self._note)  # the note is left out if the strip would lose cells that it needs
        cells = max(1, min(rows, beside if beside >= min(rows, _CELLS_FIRST) else room))
        return np.arange(cells, dtype=np.intp) * rows // cells

    def render_line(self, y: int) -> Strip:  # noqa: ARG002 - there is only one
        width = self.size.width
        view = self._view
        if view is None or not view.rows:
            return strip_of([], width)
        starts = self._starts()
        worst = np.full(len(starts), NOTHING)
        shared = np.zeros(len(starts), bool)
        if view.inspection:
            worst = np.maximum.reduceat(view.apart, starts)
            shared = np.maximum.reduceat(view.worst, starts) > worst
        cursor = -1 if self._row is None else int(np.searchsorted(starts, self._row, "right")) - 1
        marked = np.zeros(len(starts), bool)
        if self._finding is not None:
            marked[np.searchsorted(starts, view.rows_by_finding[self._finding], "right") - 1] = True
        first, last = self._ends()
        segments = [Segment(f"  {first} ", FAINT)]
        done, left = self._glyphs.bar[0], self._glyphs.bar[1]
        read = np.minimum.reduceat(view.was_read, starts)
        for cell, value in enumerate(worst.tolist()):
            severity = severity_of(value)
            style = style_of(severity) + (CURSOR if cell == cursor else _MARKED if marked[cell] else Style())
            sign = SHARED_SIGN if severity is None and shared[cell] else sign_of(severity)
            segments.append(Segment(sign if view.inspection else done if read[cell] else left, style))
        segments.append(Segment(f" {last}", FAINT))
        used = sum(segment.cell_length for segment in segments)
        room = max(0, width - used - 1)
        shorter = (self._note, self._note.partition(",")[0], "")
        note = self._glyphs.fit(next(note for note in shorter if len(note) <= room), room, right=True)
        return strip_of([*segments, Segment(" "), Segment(note, FAINT)], width)
