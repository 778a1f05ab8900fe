"""Place, size and movement over time, as a plot in character cells."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from inspector.report.view import SequenceView
from inspector.sequence.settings import frame_text
from inspector.tui.canvas import cell_rows, plot
from inspector.tui.glyphs import Glyphs
from inspector.tui.strips import strip_of
from inspector.tui.styles import FAINT, STRONG

_AXIS = 9


def _size(view: SequenceView) -> npt.NDArray[np.float64]:
    return view.series.size_ratio if view.series else np.empty(0)


def _movement(view: SequenceView) -> npt.NDArray[np.float64]:
    series = view.series
    if series is None or series.reference is None:
        return np.empty(0)
    return series.steps / (series.diagonals[series.reference] or np.nan)


@dataclass(frozen=True, slots=True)
class Quantity:
    """Something that is plotted: one value a frame file."""

    title: str
    values: Callable[[SequenceView], npt.NDArray[np.float64]]


QUANTITIES = (
    Quantity("drift of the centre, in diagonals", SequenceView.centre_distance),
    Quantity("size, against the reference", _size),
    Quantity("movement from frame to frame, in diagonals", _movement),
)


class DriftPlot(Widget):
    """Rows of the view from left to right; a frame without a file or a box is a gap. `^` is under the cursor."""

    def __init__(self, glyphs: Glyphs, id: str | None = None) -> None:
        super().__init__(id=id)
        self._glyphs = glyphs
        self._view: SequenceView | None = None
        self._row: int | None = None
        self._quantity = 0
        self._lines: list[str] = []
        self._drawn: object = None

    def show(self, view: SequenceView, row: int | None, quantity: int) -> None:
        """row: of the view, under the cursor; quantity: a place in QUANTITIES."""
        same = view is self._view and quantity == self._quantity
        if not same or row != self._row:
            self._view, self._row, self._quantity = view, row, quantity
            self.refresh()

    def _values(self, view: SequenceView) -> npt.NDArray[np.float64]:
        """(rows of the view,)."""
        by_file = QUANTITIES[self._quantity].values(view)
        if not len(by_file):
            return np.full(len(view.rows), np.nan)
        return np.array([np.nan if row.at is None else by_file[row.at] for row in view.rows])

    def _draw(self, view: SequenceView) -> list[str]:
        columns, rows = max(1, self.size.width - _AXIS - 1), max(1, self.size.height - 1)
        values = self._values(view)
        finite = values[np.isfinite(values)]
        if not len(finite):
            return ["nothing to plot yet".center(columns), *[" " * columns] * (rows - 1)]
        low, high = float(finite.min()), float(finite.max())
        lines = cell_rows(plot(values, rows, columns, low, high), self._glyphs)
        marks = {0: f"{high:.4g}", rows - 1: f"{low:.4g}"} if rows > 1 else {0: f"{high:.4g}"}
        return [f"{marks.get(at, ''):>{_AXIS - 1}} {self._glyphs.wall}{line}" for at, line in enumerate(lines)]

    def _scale(self, view: SequenceView) -> str:
        """Frame numbers at both ends, and the mark under the cursor."""
        columns = max(1, self.size.width - _AXIS - 1)
        line = [" "] * columns
        first, last = frame_text(view.rows[0].number), frame_text(view.rows[-1].number)
        line[: len(first)] = first
        line[columns - len(last) :] = last
        if self._row is not None:
            line[min(columns - 1, (2 * self._row + 1) * columns // (2 * len(view.rows)))] = "^"
        return " " * (_AXIS + 1) + "".join(line)

    def render_line(self, y: int) -> Strip:
        view, width = self._view, self.size.width
        if view is None or not view.rows:
            return strip_of([], width)
        if y == self.size.height - 1:
            return strip_of([Segment(self._scale(view), FAINT)], width)
        drawn = (view, self._quantity, self.size)
        if drawn != self._drawn:
            self._lines, self._drawn = self._draw(view), drawn
        line = self._lines[y] if y < len(self._lines) else ""
        return strip_of([Segment(line[:_AXIS], FAINT), Segment(line[_AXIS:], STRONG)], width)
