"""Draw plots in character cells. The row of a letter shows a frame's value; the letter is the frame's mark."""

from __future__ import annotations

from itertools import groupby

import numpy as np
import numpy.typing as npt

from inspector.picture.charts import envelope

_ROWS = 6
_AXIS = 7


def letter_plot(values: npt.NDArray[np.float64], letters: str, width: int, ends: tuple[str, str]) -> list[str]:
    """Draw a plot, and return its lines. If there are more frames than columns, frames share columns.

    Each column has a single letter, repeated over the range of its frames' values. If the frames of a column have
    different letters, the column gets whichever of these letters is rarest in the whole plot, so that an exceptional
    frame is visible.

    Args:
        values: The value of each of n frames, (n,), n at least 1. Values are 0 or more; NaN means no value, and is
            drawn at the bottom.
        letters: The letter of each frame, (n,).
        width: Maximum number of cells per line.
        ends: Labels of the first and the last frame.
    """
    columns = max(1, min(len(values), width - _AXIS - 1))
    order = np.arange(len(values), dtype=float)
    low, high = envelope(order, np.nan_to_num(values), 0.0, max(order[-1], 1.0), columns)
    top = float(np.nanmax(np.nan_to_num(values), initial=0.0)) or 1.0
    marks = _marks(columns_of(len(values), columns), letters)
    rows = [[" "] * columns for _ in range(_ROWS)]
    for column in np.flatnonzero(np.isfinite(low)).tolist():
        first, last = (min(int(end[column] / top * _ROWS), _ROWS - 1) for end in (low, high))
        for row in range(first, last + 1):
            rows[_ROWS - 1 - row][column] = marks[column]
    labels = {0: f"{top:.3g}", _ROWS - 1: "0"}
    lines = [f"{labels.get(at, ''):>{_AXIS - 1}}|{''.join(row)}" for at, row in enumerate(rows)]
    return [line.rstrip() for line in (*lines, " " * _AXIS + _ends(ends, columns))]


def letter_strip(letters: str, width: int, ends: tuple[str, str]) -> list[str]:
    """Draw one line with a letter for each frame. Below it, draw a second line with the labels of the first and the
    last frame. Frames share columns as in `letter_plot`."""
    columns = max(1, min(len(letters), width))
    marks = _marks(columns_of(len(letters), columns), letters)
    return ["".join(marks[column] for column in sorted(marks)), _ends(ends, columns)]


def columns_of(frames: int, columns: int) -> list[int]:
    """Distribute frames evenly over columns, in order, and return the index of each frame's column."""
    order = np.arange(frames, dtype=float)
    which: list[int] = np.minimum((order / max(order[-1], 1.0) * columns).astype(int), columns - 1).tolist()
    return which


def _ends(ends: tuple[str, str], columns: int) -> str:
    """Make a line with the labels of the first and the last frame, below the first and the last column."""
    first, last = ends
    return first + " " * max(columns - len(first) - len(last), 1) + last


def _marks(columns: list[int], letters: str) -> dict[int, str]:
    """Return the letter of each column. If the frames of a column have different letters, the column gets whichever of
    these letters is rarest in the whole plot."""
    grouped = groupby(zip(columns, letters, strict=True), key=lambda pair: pair[0])
    return {column: min((letter for _, letter in pairs), key=letters.count) for column, pairs in grouped}
