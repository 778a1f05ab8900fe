"""The data of charts: the range of values in each column, and round numbers for an axis."""

from __future__ import annotations

import math

import numpy as np

from inspector.arrays import Floats


def envelope(places: Floats, values: Floats, first: float, last: float, columns: int) -> tuple[Floats, Floats]:
    """Find the smallest and the largest value in each column of a chart. Every finite value at a position from
    `first` to `last` is in exactly one column, so a spike of a single frame is never lost.

    Args:
        places: Positions on the horizontal axis, (n,), ascending.
        values: Value at each position, (n,).
        first: Position at the left edge.
        last: Position at the right edge. If it equals `first`, all values are in column 0.
        columns: Number of columns.

    Returns:
        The smallest values and the largest values, (columns,) each; NaN for a column without a value.
    """
    low, high = np.full(columns, np.inf), np.full(columns, -np.inf)
    kept = np.isfinite(values) & (places >= first) & (places <= last)
    reach = last - first
    share = (places[kept] - first) / reach if reach > 0.0 else np.zeros(int(kept.sum()))
    column = np.minimum((share * columns).astype(np.int64), columns - 1)
    np.minimum.at(low, column, values[kept])
    np.maximum.at(high, column, values[kept])
    empty = low > high
    low[empty] = high[empty] = np.nan
    return low, high


def joined(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Extend the columns of an envelope so that neighbouring columns touch and form one line.

    If neighbouring columns don't overlap, both are extended to the middle of the gap. A column without a value remains
    empty.

    Args:
        low: Smallest value in each column, (columns,), from `envelope`.
        high: Largest value in each column, (columns,), from `envelope`.

    Returns:
        The new smallest and largest values, (columns,) each.
    """
    low, high = low.copy(), high.copy()
    below, above = np.flatnonzero(high[:-1] < low[1:]), np.flatnonzero(low[:-1] > high[1:])
    middle_up, middle_down = (high[below] + low[below + 1]) / 2.0, (low[above] + high[above + 1]) / 2.0
    high[below] = np.maximum(high[below], middle_up)
    low[below + 1] = np.minimum(low[below + 1], middle_up)
    low[above] = np.minimum(low[above], middle_down)
    high[above + 1] = np.maximum(high[above + 1], middle_down)
    return low, high


def ticks(low: float, high: float, most: int) -> Floats:
    """Choose round numbers for an axis, in steps of 1, 2 or 5 times a power of ten.

    Args:
        low: Start of the axis.
        high: End of the axis.
        most: Maximum number of ticks, at least 2.

    Returns:
        The numbers, ascending; only `low` if the axis has no length.
    """
    if not high > low:
        return np.array([low])
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(factor * power for factor in (1.0, 2.0, 5.0, 10.0, 20.0) if _steps(low, high, factor * power) <= most)
    first = math.ceil(low / step - 1e-9)
    return np.asarray(np.arange(first, first + _steps(low, high, step)) * step)


def _steps(low: float, high: float, step: float) -> int:
    return math.floor(high / step + 1e-9) - math.ceil(low / step - 1e-9) + 1
