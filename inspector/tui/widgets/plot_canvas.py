"""A curve over frames, drawn with Braille dots, or with two dots per cell if the terminal can show only ASCII."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.picture.charts import envelope, joined
from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.cells import braille, text_of

Dots = npt.NDArray[np.bool_]

LEAST_SPAN = 0.01
"""Minimum extent of an axis, as a fraction of the largest absolute value. It is 1%, because a smaller change in size or
distance is hardly visible in a picture."""

_HALVES = np.array(list(" '.:"))
"""Characters for no dot, the upper dot, the lower dot, and both."""


def cell_rows(dots: Dots, glyphs: Glyphs) -> list[str]:
    """Convert dots to lines of characters.

    Args:
        dots: Whether each dot is set: (4 h, 2 w) for Unicode, (2 h, w) for ASCII. The first row is at the top.
        glyphs: The characters that the terminal can show, Unicode or ASCII.

    Returns:
        h lines of w characters.
    """
    if not glyphs.ascii:
        return [text_of(line) for line in braille(dots)]
    return ["".join(line) for line in _HALVES[dots[0::2] + 2 * dots[1::2].astype(int)]]


@dataclass(frozen=True, eq=False)
class Curve:
    """A drawn curve.

    Attributes:
        lines: Lines of characters.
        low: Lower end of the axis; NaN if there is no value.
        high: Upper end of the axis; NaN if there is no value.
    """

    lines: list[str]
    low: float
    high: float


def curve(values: Floats, rows: int, columns: int, glyphs: Glyphs) -> Curve:
    """Draw the values of the frames, (n,), from left to right, in `rows` lines of `columns` cells. NaN leaves a gap."""
    across, down = (1, 2) if glyphs.ascii else (2, 4)
    low, high = in_columns(values, columns * across)
    if not np.isfinite(low).any():
        return Curve([" " * columns] * rows, np.nan, np.nan)
    ends = _axis(float(np.nanmin(low)), float(np.nanmax(high)))
    return Curve(cell_rows(plot(*joined(low, high), rows * down, *ends), glyphs), *ends)


def _axis(low: float, high: float) -> tuple[float, float]:
    """Return the ends of an axis for values from `low` to `high`.

    If `low` and `high` differ, the axis extends over at least LEAST_SPAN times the larger absolute value, so that noise
    does not look like motion.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        missing = LEAST_SPAN * max(abs(low), abs(high)) - (high - low)
    return (low - missing / 2, high + missing / 2) if high > low and 0 < missing < np.inf else (low, high)


def in_columns(values: Floats, columns: int) -> tuple[Floats, Floats]:
    """Find the smallest and the largest value in each column, (columns,) each; NaN in a column without a value.

    There is one value per frame, (n,). If there are fewer values than columns, a value may fill several columns.
    """
    if 0 < len(values) < columns:
        values = values[np.arange(columns) * len(values) // columns]
    return envelope(np.arange(0.5, len(values), 1.0), values, 0.0, float(len(values)), columns)


def plot(bottom: Floats, top: Floats, rows: int, low: float, high: float) -> Dots:
    """Draw columns of dots that extend from `bottom` to `top`, both of the shape (columns,).

    Return whether each dot is set, (rows, columns); the first row is at the top. If the axis from `low` to `high` has
    no extent, the dots are in the middle.
    """
    dots = np.zeros((rows, len(bottom)), bool)
    with np.errstate(over="ignore", invalid="ignore"):
        shares = [
            (end / 2 - low / 2) / (high / 2 - low / 2) if high > low else end * 0.0 + 0.5 for end in (bottom, top)
        ]
    for column in np.flatnonzero(np.isfinite(shares).all(axis=0)):
        first, last = (round((rows - 1) * float(share[column])) for share in shares)
        dots[rows - 1 - last : rows - first, column] = True
    return dots
