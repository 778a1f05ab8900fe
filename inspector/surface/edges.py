"""The edges of faces, and which of them are the same."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Indices
from inspector.formats.frame import Corners


@dataclass(frozen=True, eq=False)
class Edges:
    """Sides of faces in an order in which equal edges are neighbours.

    side (s,): the corner that the side starts at; face (s,); edge (s,): number of the edge that it lies on, rising;
    uses (e,): sides on each edge.
    """

    side: Indices
    face: Indices
    edge: Indices
    uses: Indices

    def links(self) -> Indices:
        """(l, 2): faces that lie on one edge, each with the next."""
        same = self.edge[1:] == self.edge[:-1]
        return np.stack([self.face[:-1][same], self.face[1:][same]], axis=-1)

    def lone_sides(self) -> Indices:
        """Corners at which the sides start that no other side lies on."""
        lone: Indices = self.side[self.uses[self.edge] == 1]
        return lone


def next_corner(corners: Corners) -> Indices:
    """(c,): the corner that follows each corner round its face."""
    following = np.arange(1, len(corners.v) + 1)
    filled = corners.sizes > 0
    following[corners.offsets[1:][filled] - 1] = corners.offsets[:-1][filled]
    return following


def edges_of(corners: Corners, ends: npt.NDArray[np.integer]) -> Edges:
    """Edges between corners, distinguished by `ends` (c,): corners with the same number are at the same place.

    Sides with a negative end are left out. The direction of a side doesn't matter.
    """
    start, end = ends, ends[next_corner(corners)]
    low, high = np.minimum(start, end), np.maximum(start, end)
    key = low.astype(np.int64)
    key *= int(high.max(initial=0)) + 1
    key += high
    side = np.argsort(key, kind="stable")[int((low < 0).sum()) :]  # a negative end makes the lowest keys
    key = key[side]
    begins = np.ones(len(key), bool)
    np.not_equal(key[1:], key[:-1], out=begins[1:])
    edge = np.cumsum(begins) - 1
    uses = np.diff(np.flatnonzero(begins), append=len(key))
    return Edges(side, corners.face_of_corner()[side], edge, uses)
