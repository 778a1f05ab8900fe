"""Dots to cells: two dots above each other in a cell, as half blocks or as ASCII."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.tui.glyphs import Glyphs

Dots = npt.NDArray[np.bool_]


def cell_rows(dots: Dots, glyphs: Glyphs) -> list[str]:
    """(2 h, w) dots, the first row on top -> h lines of w characters."""
    upper, lower = dots[0::2], dots[1::2]
    characters = np.array(list(glyphs.halves))[upper + 2 * lower.astype(int)]
    return ["".join(line) for line in characters]


def envelope(values: npt.NDArray[np.float64], columns: int) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Least and greatest value of each column, (columns,) each; NaN where a column has no value.

    Every value falls into a column, so that a spike of a single frame is never lost. With fewer values than columns
    each column shows the value that lies under it.
    """
    if not len(values):
        return np.full(columns, np.nan), np.full(columns, np.nan)
    if len(values) < columns:
        values = values[np.arange(columns) * len(values) // columns]
    starts = np.arange(columns) * len(values) // columns
    low = np.fmin.reduceat(values, starts)
    high = np.fmax.reduceat(values, starts)
    return low, high


def plot(values: npt.NDArray[np.float64], rows: int, columns: int, low: float, high: float) -> Dots:
    """Dots (2 rows, columns) of a line through the envelope of `values`; low and high: the ends of the axis."""
    dots = np.zeros((2 * rows, columns), bool)
    bottom, top = envelope(values, columns)
    scale = (2 * rows - 1) / (high - low) if high > low else 0.0
    for column in np.flatnonzero(np.isfinite(bottom)):
        first, last = ((np.array([bottom[column], top[column]]) - low) * scale).round().astype(int)
        dots[2 * rows - 1 - last : 2 * rows - first, column] = True
    return dots
