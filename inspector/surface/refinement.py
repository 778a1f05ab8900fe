"""Distinguish vertices by how faces connect them, regardless of their indices and positions.

This is colour refinement (Weisfeiler and Leman 1968): all vertices begin with the same colour. Then each vertex
repeatedly gets a new colour from its own colour and the colours of the faces around it, until no further vertices can
be distinguished. Two meshes with the same connectivity get the same colours.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.arrays import Indices
from inspector.formats.frame import Corners
from inspector.surface.connections import rings_by_size

Colours = npt.NDArray[np.uint64]

_STEP = 0x9E3779B97F4A7C15  # odd, so that it has an inverse modulo 2^64
_BACK = np.uint64(pow(_STEP, -1, 1 << 64))
_FORTH = np.uint64(_STEP)
_ROUNDS = 16


class Refinement:
    """The connectivity of vertices through faces.

    Attributes:
        count: The number of vertices.
    """

    def __init__(self, corners: Corners, count: int) -> None:
        self.count = count
        self._rings = [np.ascontiguousarray(rings.T) for _, rings in rings_by_size(corners)]
        vertex = np.concatenate([np.zeros(0, np.int64), *(rings.ravel() for rings in self._rings)])
        self._order = np.argsort(vertex, kind="stable")
        self._used, self._starts = np.unique(vertex[self._order], return_index=True)

    def refined(self, colours: Colours) -> Colours:
        """Refine the colours of the vertices, (count,), as far as the connectivity allows.

        Vertices with equal colours and the same connectivity keep equal colours.
        """
        distinct = len(np.unique(colours))
        while True:
            finer = colours
            for _ in range(_ROUNDS):  # counting the colours takes as long as four rounds
                finer = self._once(finer)
            found = len(np.unique(finer))
            if found == distinct:
                return colours
            colours, distinct = finer, found

    def plain(self) -> Colours:
        """The colours, (count,), that follow from the connectivity alone."""
        return self.refined(np.zeros(self.count, np.uint64))

    def _once(self, colours: Colours) -> Colours:
        if not len(self._order):
            return colours
        corners = np.concatenate([_seen_from_corners(mixed(colours)[rings]).ravel() for rings in self._rings])
        around = np.zeros(self.count, np.uint64)
        around[self._used] = np.add.reduceat(corners[self._order], self._starts)
        return mixed(colours * _FORTH + around)


def mixed(numbers: Colours) -> Colours:
    """Scatter numbers over 64 bits. Different numbers stay different.

    Source: Steele, Lea and Flood 2014, SplitMix64.
    """
    numbers = numbers + _FORTH
    numbers ^= numbers >> np.uint64(30)
    numbers *= np.uint64(0xBF58476D1CE4E5B9)
    numbers ^= numbers >> np.uint64(27)
    numbers *= np.uint64(0x94D049BB133111EB)
    numbers ^= numbers >> np.uint64(31)
    return numbers


def _seen_from_corners(ring: Colours) -> Colours:
    """Calculate a number for each corner of faces that have the same number of corners.

    The number depends on the colours of all corners of the face, taken in order from that corner.

    Args:
        ring: The colours of the k corners of each of s faces, (k, s).

    Returns:
        The numbers, (k, s).
    """
    size = len(ring)
    powers = np.cumprod(np.full(size, _FORTH, np.uint64)) * _BACK
    seen = np.zeros_like(ring)
    for colours, power in zip(ring, powers, strict=True):
        seen[0] += colours * power
    for corner in range(1, size):
        first = ring[corner - 1]
        seen[corner] = (seen[corner - 1] - first) * _BACK + first * powers[-1]
    return mixed(seen + np.uint64(size))


def classes_of(colours: Colours) -> Indices:
    """Replace each distinct colour by a number, counted from 0, (count,)."""
    return np.unique(colours, return_inverse=True)[1].reshape(-1).astype(np.int64)
