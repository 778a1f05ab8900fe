"""A plot in character cells whose marks are letters, so that it says what happens as well as how much."""

from __future__ import annotations

from itertools import groupby

import numpy as np
import numpy.typing as npt

from inspector.picture.charts import envelope

_ROWS = 6
_AXIS = 7


def letter_plot(values: npt.NDArray[np.float64], letters: str, width: int, ends: tuple[str, str]) -> list[str]:
    """Lines of at most `width` cells; the frames share columns where there are more of them.

    values (n,), n at least 1, from 0 up, NaN for none, which stands at the foot; letters (n,): the mark of each.
    Of frames in one column every value is inside its marks, and the letter is the one that differs from the commonest
    of all, so that a single odd frame is never lost. ends: the labels of the first and the last.
    """
    columns = max(1, min(len(values), width - _AXIS - 1))
    order = np.arange(len(values), dtype=float)
    low, high = envelope(order, np.nan_to_num(values), 0.0, max(order[-1], 1.0), columns)
    top = float(np.nanmax(np.nan_to_num(values), initial=0.0)) or 1.0
    column_of = np.minimum((order / max(order[-1], 1.0) * columns).astype(int), columns - 1)
    marks = _marks(column_of.tolist(), letters)
    rows = [[" "] * columns for _ in range(_ROWS)]
    for column in np.flatnonzero(np.isfinite(low)).tolist():
        first, last = (min(int(end[column] / top * _ROWS), _ROWS - 1) for end in (low, high))
        for row in range(first, last + 1):
            rows[_ROWS - 1 - row][column] = marks[column]
    labels = {0: f"{top:.3g}", _ROWS - 1: "0"}
    lines = [f"{labels.get(at, ''):>{_AXIS - 1}}|{''.join(row)}" for at, row in enumerate(rows)]
    first_label, last_label = ends
    gap = max(columns - len(first_label) - len(last_label), 1)
    return [line.rstrip() for line in (*lines, " " * _AXIS + first_label + " " * gap + last_label)]


def _marks(columns: list[int], letters: str) -> dict[int, str]:
    """The letter of each column: of several, the one that is rarest over all."""
    grouped = groupby(zip(columns, letters, strict=True), key=lambda pair: pair[0])
    return {column: min((letter for _, letter in pairs), key=letters.count) for column, pairs in grouped}
