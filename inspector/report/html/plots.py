"""Draw plots over time as SVG 2 (W3C Candidate Recommendation). Missing values leave gaps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.picture.charts import envelope, ticks
from inspector.report.frame_rows import SequenceView
from inspector.report.html.columns import PageColumn
from inspector.report.html.elements import Element, el
from inspector.sequence.discovery.settings import frame_text

_WIDTH, _HEIGHT = 640.0, 170.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 12.0, 10.0, 24.0
MOST_COLUMNS = 566
"""Maximum number of columns of a plot. A column that several frames share shows the range of their values."""


@dataclass(frozen=True, eq=False)
class Axis:
    """The horizontal axis of the plots.

    Attributes:
        places: Position of each row of the view, in steps of the sequence, (rows,).
        columns: Number of columns: one per step of the sequence, at most MOST_COLUMNS.
    """

    places: Floats
    columns: int

    @cached_property
    def column_of(self) -> npt.NDArray[np.intp]:
        """The column of each row, (rows,)."""
        reach = float(self.places[-1] - self.places[0])
        share = (self.places - self.places[0]) / reach if reach > 0.0 else np.zeros(len(self.places))
        return np.minimum((share * self.columns).astype(np.intp), self.columns - 1)

    @cached_property
    def x(self) -> Floats:
        """The horizontal position of each row, (rows,), in units of the drawing."""
        return self.x_of(self.column_of)

    def x_of(self, column: npt.NDArray[np.intp]) -> Floats:
        """Return the horizontal position of the middle of each column, in units of the drawing."""
        return np.asarray(_LEFT + (column + 0.5) / self.columns * (_WIDTH - _LEFT - _RIGHT))


def axis_of(view: SequenceView) -> Axis:
    """Make the axis for a view with at least one row."""
    step = view.sequence.step
    places = np.array([float((row.number - view.rows[0].number) / step) for row in view.rows])
    return Axis(places, min(int(places[-1]) + 1, MOST_COLUMNS))


def plot(column: PageColumn, place: int, axis: Axis, view: SequenceView, key: str) -> Element:
    """Make a figure with the plot of a column.

    Args:
        column: The column of the page's table, with at least one value.
        place: Index of the column's cell in each row of the table. The script reads the value at the cursor from this
            cell.
        axis: The horizontal axis.
        view: The sequence as rows.
        key: Prefix of the anchors.
    """
    name = f"{key}-p{place}"
    heading = el("figcaption", el("span", column.title, id=name), " ", el("span", class_="value"))
    finite = column.values[np.isfinite(column.values)]
    low, high = _ends(float(finite.min()), float(finite.max()), column.span)
    said = el("desc", _said(column, view), id=f"{name}-said")
    drawing = el(
        "svg",
        said,
        _scale(low, high, column.whole),
        _frames(axis, view),
        el("path", d=_line(axis, column.values, low, high), class_="line"),
        el("line", x1="0", x2="0", y1=_number(_TOP), y2=_number(_HEIGHT - _BOTTOM), class_="cursor"),
        viewBox=f"0 0 {_WIDTH:g} {_HEIGHT:g}",
        role="img",
        aria_labelledby=f"{name} {name}-said",
    )
    return el("figure", heading, drawing, class_="plot", data_cell=str(place))


def _ends(low: float, high: float, span: float) -> tuple[float, float]:
    """Return both ends of a plot's vertical axis: `low` and `high`, moved apart if their distance is below `span`."""
    more = (span - (high - low)) / 2.0
    if not more > 0.0:
        return low, high
    return (0.0, span) if 0.0 <= low < more else (low - more, high + more)


def _said(column: PageColumn, view: SequenceView) -> str:
    """Describe the plot in words, for readers who can't see it."""
    at = [int(np.nanargmin(column.values)), int(np.nanargmax(column.values))]
    least, most = (f"{column.text(row)} in frame {frame_text(view.rows[row].number)}" for row in at)
    if column.values[at[0]] == column.values[at[1]]:
        return f"{column.text(at[0])} in all frames that have a value"
    return f"lowest {least}, highest {most}; the table of all frames lists every value"


def _y(values: Floats, low: float, high: float) -> Floats:
    """Return the vertical positions of values, in units of the drawing; the middle of the plot if `high` equals
    `low`."""
    share = (values - low) / (high - low) if high > low else np.full(len(values), 0.5)
    return np.asarray(_HEIGHT - _BOTTOM - share * (_HEIGHT - _TOP - _BOTTOM))


def _line(axis: Axis, values: Floats, low: float, high: float) -> str:
    """Return a path that encloses the range of values in each column, with gaps at columns without a value."""
    least, most = envelope(axis.places, values, axis.places[0], axis.places[-1], axis.columns)
    x, bottom, top = axis.x_of(np.arange(axis.columns)), _y(least, low, high), _y(most, low, high)
    parts = []
    for known, run in groupby(range(axis.columns), key=lambda column: bool(np.isfinite(least[column]))):
        if known:
            columns = list(run)
            points = [(x[at], top[at]) for at in columns] + [(x[at], bottom[at]) for at in reversed(columns)]
            if len(columns) == 1:  # widen a single value between gaps so that it is visible
                points = [(across + side, down) for across, down in points for side in (-2.0, 2.0)]
            parts.append("M" + "L".join(f"{_number(across)} {_number(down)}" for across, down in points) + "Z")
    return "".join(parts)


def _scale(low: float, high: float, whole: bool) -> Iterator[Element]:
    """Draw round numbers to the left of the plot, each with a line; for a count, only integers."""
    levels = ticks(low, high, 4)
    levels = levels[levels == levels.round()] if whole else levels
    texts = [f"{level:,.0f}" if abs(level) >= 1000 else f"{level + 0.0:.4g}" for level in levels]
    for text, y in zip(texts, _y(levels, low, high).tolist(), strict=True):
        yield el("path", d=f"M{_LEFT:g} {_number(y)}H{_WIDTH - _RIGHT:g}", class_="level")
        yield el("text", text, x=f"{_LEFT - 6:g}", y=_number(y + 4), text_anchor="end")


def _frames(axis: Axis, view: SequenceView) -> Iterator[Element]:
    """Write the first and the last frame number below the plot."""
    for row, anchor in dict(zip((0, len(view.rows) - 1), ("start", "end"), strict=True)).items():
        text = frame_text(view.rows[row].number)
        yield el("text", text, x=_number(axis.x[row]), y=f"{_HEIGHT - 6:g}", text_anchor=anchor)


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
