"""Several curves, one above the other, that show the same frames. A row of signs below the curves shows findings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from rich.cells import cell_len
from rich.segment import Segment
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from inspector.arrays import Floats
from inspector.checks.base.finding import Severity
from inspector.report.curves import PANELS, Quantity
from inspector.report.frame_rows import NOTHING, SequenceView, severity_of
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import CURSOR, FAINT, PLAIN, STRONG, sign_of, strip_of, style_of
from inspector.tui.widgets.plot_canvas import Curve, curve

_AXIS = 11
_FOOT = 2  # rows for the signs of findings, and for frame numbers


@dataclass(frozen=True, eq=False)
class Band:
    """A curve as it is drawn.

    Attributes:
        measured: The quantity that the curve shows.
        values: The value of each row of the view, (rows,).
        drawn: The curve as lines of characters.
        axis: Text to the left of each line.
        limits: Indices of the lines of characters that are at the height of a limit.
        extremes: Texts about the smallest and the largest value and their frames, the longest text first.
        worst: The worst severity in each column, from the findings of the checks that judge these values.
    """

    measured: Quantity
    values: Floats
    drawn: Curve
    axis: list[str]
    limits: frozenset[int]
    extremes: tuple[str, ...]
    worst: list[int]


class BandPlot(Widget):
    """Curves over frames from left to right. A frame without a file or a value is a gap.

    A line marks the frame under the cursor. On each curve, the frames with errors or warnings about its values are
    marked. The row below the curves has the sign of the worst such finding in each column.
    """

    def __init__(self, glyphs: Glyphs, id: str | None = None) -> None:
        super().__init__(id=id)
        self._glyphs = glyphs
        self._view: SequenceView | None = None
        self._row: int | None = None
        self._panel = 0
        self._window = (0, 0)
        self._bands: list[Band] = []
        self._drawn: object = None
        self._worst: list[int] = []

    def show(self, view: SequenceView, row: int | None, panel: int, window: tuple[int, int] | None = None) -> None:
        """Show a sequence."""
        seen = (view, panel, window or (0, len(view.rows)))
        before, self._row = self._row, row
        if seen == (self._view, self._panel, self._window):
            if row != before:
                self._refresh_cursor(before)
        else:
            self._view, self._panel, self._window = seen
            self.refresh()

    def neighbour(self, row: int, way: int) -> int:
        """Return the row that is shown about one column to the right (`way` 1) or to the left (-1) of `row`.

        If neighbouring rows are more than a column apart, return the next or the previous row. If the result would be
        after the last row of the sequence, return the last row. If the result would be before the first row, return the
        first row.
        """
        first, stop = self._window
        step = max(1, round((stop - first) / self.columns))
        return max(0, min(row + way * step, len(self._view.rows) - 1 if self._view else 0))

    @property
    def columns(self) -> int:
        """Width of the plots in cells."""
        return max(1, self.size.width - _AXIS)

    def _column(self, row: int | None) -> int | None:
        """Return the plot column that shows a row of the view; None if `row` is None or outside the window."""
        first, stop = self._window
        if row is None or not first <= row < stop:
            return None
        return (2 * (row - first) + 1) * self.columns // (2 * (stop - first))

    def _heights(self) -> list[int]:
        """Return the number of rows of each band, including its heading."""
        bands = len(PANELS[self._panel].curves)
        rows = max(2 * bands, self.size.height - _FOOT)
        return [rows // bands + (at < rows % bands) for at in range(bands)]

    def _refresh_cursor(self, before: int | None) -> None:
        """Redraw the cursor's previous and current columns, and the headings, which show the values at the cursor."""
        columns = [column for row in (before, self._row) if (column := self._column(row)) is not None]
        regions = [Region(_AXIS + column, 0, 1, self.size.height) for column in columns]
        top = 0
        for height in self._heights():
            regions.append(Region(0, top, self.size.width, 1))
            top += height
        self.refresh(*regions)

    def _draw(self, view: SequenceView) -> list[Band]:
        first, stop = self._window
        bands = []
        for measured, height in zip(PANELS[self._panel].curves, self._heights(), strict=True):
            values = measured.by_row(view)
            drawn = curve(values[first:stop], height - 1, self.columns, self._glyphs)
            marks = {0: measured.text(drawn.high), height - 2: measured.text(drawn.low)}
            limits = {}
            for value in measured.limits(view):
                if drawn.low < value < drawn.high:
                    at = int((drawn.high - value) / (drawn.high - drawn.low) * (height - 1))
                    limits[at] = f"lim {value:.3g}"[: _AXIS - 2]
            marks = limits | marks
            axis = [marks.get(at, "") if np.isfinite(drawn.high) else "" for at in range(height - 1)]
            extremes = _extremes(view, measured, values, first, stop)
            worst = self._worst_of_columns(view.apart_of(measured.checks))
            bands.append(Band(measured, values, drawn, axis, frozenset(limits), extremes, worst))
        return bands

    def _heading(self, band: Band) -> str:
        """Return the longest heading that fits, or the shortest heading if none fits."""
        here = "" if self._row is None else band.measured.text(float(band.values[self._row]))
        unit = f" ({band.measured.unit})" if band.measured.unit else ""
        headings = [f"{band.measured.title}{unit}: {'; '.join(filter(None, (here, words)))}" for words in band.extremes]
        return next((one for one in headings if cell_len(one) <= self.size.width), headings[-1])

    def render_line(self, y: int) -> Strip:
        view, width = self._view, self.size.width
        if view is None or not view.rows:
            return strip_of([], width)
        drawn = (view, self._panel, self._window, self.size)
        if drawn != self._drawn:
            self._bands, self._drawn = self._draw(view), drawn
            self._worst = np.max([band.worst for band in self._bands], axis=0).tolist()
        for band, height in zip(self._bands, self._heights(), strict=True):
            if y < height:
                return self._band_line(band, y)
            y -= height
        return self._signs(view) if y == 0 else self._numbers(view)

    def _band_line(self, band: Band, y: int) -> Strip:
        width = self.size.width
        if y == 0:
            return strip_of([Segment(self._glyphs.fit(self._heading(band), width), STRONG)], width)
        axis = Segment(f"{band.axis[y - 1]:>{_AXIS - 2}} {self._glyphs.wall}", FAINT)
        line, at = band.drawn.lines[y - 1], self._column(self._row)
        segments = [axis]
        for column, (letter, severity) in enumerate(zip(line, band.worst, strict=True)):
            if letter == " ":
                dash = column % 2 == 0 and y - 1 in band.limits
                under = self._glyphs.wall if column == at else self._glyphs.rule if dash else letter
                segments.append(Segment(under, FAINT))
            else:
                style = PLAIN if severity < Severity.WARNING else style_of(severity_of(severity))
                segments.append(Segment(letter, style + CURSOR if column == at else style))
        return strip_of(segments, width)

    def _worst_of_columns(self, by_row: npt.NDArray[np.int8]) -> list[int]:
        """Return the worst severity in each column, from the severities of the rows."""
        first, stop = self._window
        frames, columns = stop - first, self.columns
        worst = np.full(columns, NOTHING)
        if frames < columns:
            places = first + np.arange(columns) * frames // columns
            return [int(value) for value in by_row[places]]
        np.maximum.at(worst, (2 * np.arange(frames) + 1) * columns // (2 * frames), by_row[first:stop])
        return [int(value) for value in worst]

    def _signs(self, view: SequenceView) -> Strip:
        """Return the row with the sign of the worst severity in each column.

        A column is blank if it has no frame, or if the sequence is not checked yet.
        """
        first, stop = self._window
        places = (2 * np.arange(stop - first) + 1) * self.columns // (2 * (stop - first))
        has_frame = np.zeros(self.columns, bool)
        has_frame[places] = view.inspection is not None
        cursor = self._column(self._row)
        segments = [Segment(" " * _AXIS)]
        for at, value in enumerate(self._worst):
            severity = severity_of(value)
            style = style_of(severity) + (CURSOR if at == cursor else PLAIN)
            segments.append(Segment(sign_of(severity) if has_frame[at] else " ", style))
        return strip_of(segments, self.size.width)

    def _numbers(self, view: SequenceView) -> Strip:
        """Return the row with the first and the last frame number, and a mark below the cursor."""
        first, stop = self._window
        line = [" "] * self.columns
        left, right = frame_text(view.rows[first].number), frame_text(view.rows[stop - 1].number)
        line[: len(left)] = left
        line[self.columns - len(right) :] = right
        cursor = self._column(self._row)
        if cursor is not None:
            line[cursor] = "^"
        return strip_of([Segment(f"{'frame':>{_AXIS - 2}}  " + "".join(line), FAINT)], self.size.width)


def _extremes(view: SequenceView, measured: Quantity, values: Floats, first: int, stop: int) -> tuple[str, ...]:
    """Describe the smallest and the largest visible value, as in `min 0.1 (frame 3), max 0.4 (frame 17)`.

    Return several texts, the longest first, because narrow screens need a shorter text. If there are no values, or if
    all values look equal, return only one text.
    """
    seen = values[first:stop]
    if not np.isfinite(seen).any():
        return ("nothing to plot",)
    low, high = (first + int(pick(seen)) for pick in (np.nanargmin, np.nanargmax))
    least, most = (measured.text(float(values[at])) for at in (low, high))
    if least == most:
        return (f"always {least}" + ("" if values[low] == values[high] else " (rounded)"),)
    numbers = [frame_text(view.rows[at].number) for at in (low, high)]
    full = f"min {least} (frame {numbers[0]}), max {most} (frame {numbers[1]})"
    return full, f"min in frame {numbers[0]}, max in frame {numbers[1]}", f"max in frame {numbers[1]}", ""
