"""The facts of every frame as columns, for the table and the plots."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats
from inspector.report.curves import PANELS, Quantity
from inspector.report.fit_text import letters
from inspector.report.html.gather import Shown


@dataclass(frozen=True, eq=False)
class PageColumn:
    """A quantity over all frames.

    Attributes:
        title: Name of the quantity, with its unit.
        values: The value of each row of the view, (rows,); NaN for no value.
        marks: The mark before each value. A mark shows that lettering is readable, or the reason why it isn't
            readable (see `letters`). "" for no mark.
        form: Format specification of the numbers.
        span: Minimum range of a plot's vertical axis. It prevents rounding from looking like motion.
    """

    title: str
    values: Floats
    marks: tuple[str, ...]
    form: str = ".4g"
    span: float = 0.0

    @property
    def whole(self) -> bool:
        """Whether the values are counts."""
        return self.form.endswith("0f")

    def text(self, row: int) -> str:
        """Format a row's mark and value, in that order."""
        value = float(self.values[row])
        return f"{self.marks[row]} {format(value, self.form) if np.isfinite(value) else NONE}".strip()


NONE = "–"
"""The text for a frame without a value."""

_SPANS = {"diagonals": 0.01, "reference = 1": 0.02, "diagonals per frame": 0.001, "": 4.0}
"""Minimum range of a plot's vertical axis, by unit. A change of this amount in drift, size or movement is visible in
the animation. Counts have the unit ""."""

_SPEED_SPAN = 0.001
"""Minimum range of the vertical axis in a plot of speeds, in diagonals of the reference frame per frame."""

_PANELS = {"drift, size and movement": "", "speed": "speed: ", "counts": ""}
"""Titles of panels on the page, and the prefix of each panel's column titles; "" for no prefix."""


def columns_of(shown: Shown) -> list[PageColumn]:
    """Make the columns of a sequence: motion, counts and, if lettering was measured, the height of letters. Empty
    columns are left out."""
    view = shown.view
    plain = ("",) * len(view.rows)
    columns = [
        PageColumn(f"{_PANELS[panel.title]}{_title(one)}", one.by_row(view), plain, one.form, _span(one, shown))
        for panel in PANELS
        if panel.title in _PANELS
        for one in panel.curves
    ]
    return [one for one in (*columns, *_lettering(shown)) if np.isfinite(one.values).any()]


def _span(measured: Quantity, shown: Shown) -> float:
    """Return the minimum range of a plot's vertical axis, in the unit of the quantity."""
    series = shown.inspection.series
    if measured.unit in _SPANS or series.reference_index is None:
        return _SPANS.get(measured.unit, 0.0)
    diagonal = float(series.diagonals[series.reference_index])
    return _SPEED_SPAN * diagonal if np.isfinite(diagonal) else 0.0


def _title(measured: Quantity) -> str:
    return f"{measured.title}, {measured.unit}" if measured.unit else measured.title


def _lettering(shown: Shown) -> Iterator[PageColumn]:
    if shown.fit is None or shown.fit.lettering is None:
        return
    seen = shown.fit.lettering[0]
    known = dict(zip(seen.frames, zip(seen.height.tolist(), letters(seen), strict=True), strict=True))
    readings = [known.get(row.number, (np.nan, "")) if row.at is not None else (np.nan, "") for row in shown.view.rows]
    heights = np.array([height for height, _ in readings], float)
    marks = tuple(mark for _, mark in readings)
    yield PageColumn("height of letters in the picture, pixels", heights, marks, span=4.0)
