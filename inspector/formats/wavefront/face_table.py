"""A table of the corners in a block of face lines, as written. The tables of consecutive pieces of a block can be
joined.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.arrays import Indices
from inspector.formats.problems import Problem, ProblemLog

Slots = npt.NDArray[np.signedinteger[Any]]
_NARROW = np.iinfo(np.int32)

NOT_GIVEN: int = np.iinfo(np.int64).min
"""The value in `v`, `vt` or `vn` of a table for an index that is missing or is not a valid number."""


@dataclass(frozen=True, slots=True, eq=False)
class FaceTable:
    """The corners of f faces as written. Face i has the corners `offsets[i]:offsets[i + 1]`. All arrays are read-only.

    Indices count from 1, negative indices are relative, and a missing index is NOT_GIVEN. `v`, `vt` and `vn` are int32
    if their values fit, otherwise int64.

    Attributes:
        offsets: Index of the first corner of each face, followed by the total number of corners, (f + 1,) int64.
        v: Vertex index of each corner, (c,).
        vt: UV index of each corner, (c,).
        vn: Normal index of each corner, (c,).
        problems: The problems. Their lines and elements (faces) are counted from 0 in the block.
    """

    offsets: Indices
    v: Slots
    vt: Slots
    vn: Slots
    problems: tuple[Problem, ...] = ()


def join_tables(pieces: Iterable[tuple[FaceTable, int]]) -> FaceTable:
    """Join the tables of consecutive pieces.

    Args:
        pieces: For each piece, its table and its number of physical lines. There must be at least one piece.
    """
    parts = list(pieces)
    tables = [table for table, _ in parts]
    if len(tables) == 1:
        return tables[0]
    log = ProblemLog()
    line = face = corner = 0
    offsets = [np.zeros(1, np.int64)]
    for table, count in parts:
        log.merge(table.problems, line, face)
        offsets.append(table.offsets[1:] + corner)
        line += count
        face += len(table.offsets) - 1
        corner += len(table.v)
    return face_table(
        np.concatenate(offsets),
        np.concatenate([table.v for table in tables]),
        np.concatenate([table.vt for table in tables]),
        np.concatenate([table.vn for table in tables]),
        log.problems(),
    )


def face_table(offsets: Indices, v: Slots, vt: Slots, vn: Slots, problems: tuple[Problem, ...] = ()) -> FaceTable:
    """Make a table. Its arrays become read-only. `v`, `vt` and `vn` each become int32 if their values fit.

    Args:
        offsets: Index of the first corner of each face, followed by the total number of corners, (f + 1,) int64.
        v: Vertex index of each corner as written, (c,).
        vt: UV index of each corner as written, (c,).
        vn: Normal index of each corner as written, (c,).
        problems: The problems. Their lines and elements (faces) are counted from 0 in the block.
    """
    v, vt, vn = _narrow(v), _narrow(vt), _narrow(vn)
    for array in (offsets, v, vt, vn):
        array.flags.writeable = False
    return FaceTable(offsets, v, vt, vn, problems)


def _narrow(slots: Slots) -> Slots:
    """Convert indices to int32 if they fit, to save up to 200 MB."""
    if slots.dtype == np.int32 or not len(slots) or slots.min() < _NARROW.min or slots.max() > _NARROW.max:
        return slots
    return slots.astype(np.int32)
