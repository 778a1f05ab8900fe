"""A table of the numbers of one block. The tables of consecutive pieces of a block can be joined."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.formats.problems import Problem, ProblemLog


@dataclass(frozen=True, slots=True, eq=False)
class NumberTable:
    """The numbers of n statements with the same keyword.

    Attributes:
        values: The numbers, (n, c) float64, read-only; NaN if a number is bad or missing. c is the highest count of
            numbers in a statement, but at least the format's minimum.
        columns: Count of numbers in each row, bad numbers included, (n,) uint8; None if every row has c numbers.
        decimals: Maximum number of decimal places of a good number, after its exponent is applied (1.25e-3 has 5); at
            most 20.
        plain: Whether every line is a statement with c good numbers and nothing else.
        problems: The problems. Their lines and elements (rows) are counted from 0 in the block.
    """

    values: Floats
    columns: npt.NDArray[np.uint8] | None
    decimals: int
    plain: bool
    problems: tuple[Problem, ...] = ()


def join_tables(pieces: Iterable[tuple[NumberTable, int]]) -> NumberTable:
    """Join the tables of consecutive pieces of a block.

    Args:
        pieces: For each piece, its table and its number of physical lines. There must be at least one piece.
    """
    parts = list(pieces)
    tables = [table for table, _ in parts]
    if len(tables) == 1:
        return tables[0]
    width = max(table.values.shape[1] for table in tables)
    ragged = any(table.columns is not None or table.values.shape[1] != width for table in tables)
    log = ProblemLog()
    line = row = 0
    for table, count in parts:
        log.merge(table.problems, line, row)
        line += count
        row += len(table.values)
    values = np.concatenate([_widened(table.values, width) for table in tables])
    values.flags.writeable = False
    return NumberTable(
        values,
        np.concatenate([_given(table) for table in tables]) if ragged else None,
        max(table.decimals for table in tables),
        not ragged and all(table.plain for table in tables),
        log.problems(),
    )


def _widened(values: Floats, width: int) -> Floats:
    missing = width - values.shape[1]
    return np.pad(values, ((0, 0), (0, missing)), constant_values=np.nan) if missing else values


def _given(table: NumberTable) -> npt.NDArray[np.uint8]:
    if table.columns is not None:
        return table.columns
    return np.full(len(table.values), table.values.shape[1], np.uint8)
