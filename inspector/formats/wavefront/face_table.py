"""The corners of a block of face lines as written, and the joining of the tables of its pieces."""

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
"""Marks a slot of a corner that the file leaves out, or that holds no index."""


@dataclass(frozen=True, slots=True, eq=False)
class FaceTable:
    """The corners of f faces; face i has the corners `offsets[i]:offsets[i + 1]`.

    offsets (f + 1,) int64; v, vt, vn (c,) int32 where all values fit, else int64; read-only. As written: counted
    from 1, negative is relative, 0 stays 0, NOT_GIVEN where absent. problems: lines and elements (faces) counted from
    0 in the block.
    """

    offsets: Indices
    v: Slots
    vt: Slots
    vn: Slots
    problems: tuple[Problem, ...] = ()


def join_tables(pieces: Iterable[tuple[FaceTable, int]]) -> FaceTable:
    """One table from those of consecutive pieces, each with its count of physical lines."""
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
    """A table whose arrays are made read-only, its slots half as wide where all their values fit."""
    v, vt, vn = _narrow(v), _narrow(vt), _narrow(vn)
    for array in (offsets, v, vt, vn):
        array.flags.writeable = False
    return FaceTable(offsets, v, vt, vn, problems)


def _narrow(slots: Slots) -> Slots:
    """8 million corners as int64 would be 200 MB, held as long as the frame is the last one read."""
    if slots.dtype == np.int32 or not len(slots) or slots.min() < _NARROW.min or slots.max() > _NARROW.max:
        return slots
    return slots.astype(np.int32)
