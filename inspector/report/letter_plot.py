"""A plot in character cells whose marks are letters: what happens as well as how much."""

from __future__ import annotations

from itertools import groupby

import numpy as np
import numpy.typing as npt

from inspector.picture.charts import envelope

_ROWS = 6
_AXIS = 7


def letter_plot(values: npt.NDArray[np.float64], letters: str, width: int, ends: tuple[str, str]) -> list[str]:
    """Lines of at most `width` cells; the frames share columns where there are more of them.

    The marks of a column span the values of its frames, and its letter is the rarest, so that a single odd frame is
    never lost.

    Args:
        values: (n,), n at least 1, from 0 up; NaN for no value, drawn at the bottom.
        letters: (n,), the mark of each frame.
        width: cells of a line.
        ends: labels of the first and the last frame.
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
    """One line of at most `width` cells with a letter for each frame, and its ends below; as in `letter_plot`, frames
    share columns where there are more of them."""
    columns = max(1, min(len(letters), width))
    marks = _marks(columns_of(len(letters), columns), letters)
    return ["".join(marks[column] for column in sorted(marks)), _ends(ends, columns)]


def columns_of(frames: int, columns: int) -> list[int]:
    """The column of each frame, where frames share columns."""
    order = np.arange(frames, dtype=float)
    which: list[int] = np.minimum((order / max(order[-1], 1.0) * columns).astype(int), columns - 1).tolist()
    return which


def _ends(ends: tuple[str, str], columns: int) -> str:
    """The labels of the first and the last frame under the columns."""
    first, last = ends
    return first + " " * max(columns - len(first) - len(last), 1) + last


def _marks(columns: list[int], letters: str) -> dict[int, str]:
    """The letter of each column: of several, the rarest overall."""
    grouped = groupby(zip(columns, letters, strict=True), key=lambda pair: pair[0])
    return {column: min((letter for _, letter in pairs), key=letters.count) for column, pairs in grouped}
