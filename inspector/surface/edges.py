"""Find the sides of faces, and the edges that they form.

A side belongs to one face. An edge consists of all sides between the same two points.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector import _native
from inspector.arrays import Indices, SmallIndices
from inspector.formats.frame import Corners

_SIDES_AT_ONCE = 1 << 20
"""Approximate number of sides that are sorted in one batch."""


@dataclass(frozen=True, eq=False)
class Edges:
    """The sides of all faces, sorted so that the sides of an edge are next to each other.

    Attributes:
        side: The corner at which each side starts, (s,).
        face: The face of each side, (s,).
        edge: The edge of each side, counted from 0, (s,), ascending.
        uses: The number of sides of each edge, (e,).
    """

    side: SmallIndices
    face: SmallIndices
    edge: SmallIndices
    uses: SmallIndices

    def links(self) -> SmallIndices:
        """Return the pairs of faces that share an edge, (l, 2). An edge that n faces share yields n - 1 pairs."""
        same = self.edge[1:] == self.edge[:-1]
        return np.stack([self.face[:-1][same], self.face[1:][same]], axis=-1)

    def lone_sides(self) -> SmallIndices:
        """Find the sides whose edge has no other side, and return the corners at which they start, (k,)."""
        lone: SmallIndices = self.side[self.uses[self.edge] == 1]
        return lone


def next_corner(corners: Corners) -> Indices:
    """Return the corner that follows each corner around its face, (c,)."""
    following = np.arange(1, len(corners.v) + 1)
    filled = corners.sizes > 0
    following[corners.offsets[1:][filled] - 1] = corners.offsets[:-1][filled]
    return following


def edges_of(corners: Corners, ends: npt.NDArray[np.integer]) -> Edges:
    """Find the sides of faces, and the edges that they form. The direction of a side has no effect.

    Args:
        corners: The faces.
        ends: A number for each corner, (c,), equal for corners at the same point. Sides with a negative number at an
            end are left out.
    """
    if _native.active:
        side, face, edge, uses = (np.empty(len(ends), np.int32) for _ in range(4))
        count, different = _native.core.sort_sides(
            np.ascontiguousarray(corners.offsets), np.ascontiguousarray(ends, np.int32), side, face, edge, uses
        )
        return Edges(side[:count], face[:count], edge[:count], uses[:different].copy())
    after = np.concatenate([ends[1:], ends[:1]])
    filled = corners.sizes > 0
    after[corners.offsets[1:][filled] - 1] = ends[corners.offsets[:-1][filled]]
    low, high = np.minimum(ends, after), np.maximum(ends, after)
    del after
    width, lowest = int(high.max(initial=0)) + 1, int(low.max(initial=0)) + 1
    sides, begins = [np.empty(0, np.int32)], [np.empty(0, bool)]
    # In pieces, because keys and order take 16 bytes per side, and a large mesh has millions of sides.
    pieces = 1 + len(ends) // _SIDES_AT_ONCE
    for piece in range(pieces):
        first, stop = lowest * piece // pieces, lowest * (piece + 1) // pieces
        some = np.flatnonzero((low >= first) & (low < stop))
        key = low[some].astype(np.int64)
        key *= width
        key += high[some]
        order = np.argsort(key, kind="stable")
        key = key[order]
        sides.append(some[order].astype(np.int32))
        begins.append(np.concatenate([np.ones(min(1, len(key)), bool), key[1:] != key[:-1]]))
    del low, high
    side, begin = np.concatenate(sides), np.concatenate(begins)
    uses = np.diff(np.flatnonzero(begin), append=len(begin)).astype(np.int32)
    face = np.repeat(np.arange(len(corners.offsets) - 1, dtype=np.int32), corners.sizes)[side]
    return Edges(side, face, np.cumsum(begin, dtype=np.int32) - np.int32(1), uses)
