"""What depends on the faces alone: how they hang together, and which of them say the same."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Flags, Indices
from inspector.formats.frame import ABSENT, Corners
from inspector.surface.components import connected
from inspector.surface.edges import Edges, edges_of

Rings = npt.NDArray[np.integer]
"""Vertices of faces of one size, (k, size)."""


_COLUMNS = 1 << 10
"""Corners of each face looked at together: few calls for a face of a million corners."""

_ROWS = 1 << 16
"""Faces looked at together: a mesh of millions of faces takes no copies of them all."""


@dataclass(frozen=True, slots=True, eq=False)
class Connections:
    """pieces: parts that hang together over edges. boundary_edges: edges of one face; non_manifold_edges: of more than
    two; opposed_edges: of two faces that run along them in the same direction.
    unused: vertices of no face. doubled: faces with the corners of an earlier face, (d,) rising; backed: those that go
    round an earlier face the other way, (b,) rising.
    """

    pieces: int
    boundary_edges: int
    non_manifold_edges: int
    opposed_edges: int
    unused: int
    doubled: Indices
    backed: Indices


def connect(corners: Corners, vertices: int) -> Connections:
    """The connections of faces over `vertices` vertices; corners without a legal vertex have no edges."""
    doubled, backed = same_corners(corners)
    edges = edges_of(corners, corners.v)
    pieces = connected(len(corners.offsets) - 1, edges.links())
    used = np.zeros(vertices, bool)
    used[corners.v[corners.v != ABSENT]] = True
    return Connections(
        pieces=int(pieces.max(initial=-1)) + 1,
        boundary_edges=int((edges.uses == 1).sum()),
        non_manifold_edges=int((edges.uses > 2).sum()),
        opposed_edges=int(len(opposed_sides(corners, edges)) / 2),
        unused=vertices - int(used.sum()),
        doubled=doubled,
        backed=backed,
    )


def opposed_sides(corners: Corners, edges: Edges) -> Indices:
    """Sides (k,), as numbers of corners, of the edges of two faces that both run along them in the same direction."""
    paired = edges.uses[edges.edge] == 2
    sides = edges.side[paired].reshape(-1, 2)
    return np.asarray(sides[corners.v[sides[:, 0]] == corners.v[sides[:, 1]]].ravel(), np.int64)


def same_corners(corners: Corners) -> tuple[Indices, Indices]:
    """Faces that have just the vertices of an earlier face: in its direction or another order, and against it."""
    doubled: list[Indices] = []
    backed: list[Indices] = []
    for faces, rings in rings_by_size(corners):
        order, first = _first_alike(rings)
        again = order[first != order]
        against = _runs_against(rings[again], rings[first[first != order]])
        doubled.append(faces[again[~against]])
        backed.append(faces[again[against]])
    none = np.zeros(0, np.int64)
    return np.sort(np.concatenate([none, *doubled])), np.sort(np.concatenate([none, *backed]))


def rings_by_size(corners: Corners) -> list[tuple[Indices, Rings]]:
    """Faces (k,) of each size from 3 on, with their vertices (k, size); faces without a vertex are left out."""
    sizes = corners.sizes
    groups = []
    for size in np.flatnonzero(np.bincount(sizes, minlength=3)[3:]) + 3:
        faces = np.flatnonzero(sizes == size)
        whole = len(faces) * size == len(corners.v)
        rings = corners.v.reshape(-1, size) if whole else corners.v[corners.offsets[faces][:, None] + np.arange(size)]
        legal = (rings >= 0).all(axis=1) if (corners.v == ABSENT).any() else slice(None)
        groups.append((faces[legal], rings[legal]))
    return groups


def _first_alike(rings: Rings) -> tuple[Indices, Indices]:
    """Rows (k,) and for each the first row that has the same vertices in any order, (k,)."""
    # Equal sums of squares are rare among different faces, and cheaper to look for than equal rows.
    mark = np.zeros(len(rings), np.int64)
    for first in range(0, len(rings), _ROWS):
        rows = slice(first, first + _ROWS)
        for start in range(0, rings.shape[1], _COLUMNS):
            some = rings[rows, start : start + _COLUMNS].astype(np.int64)
            mark[rows] += np.einsum("ks,ks->k", some, some + 1)
    ordered = np.sort(mark)
    suspects = np.flatnonzero(np.isin(mark, ordered[1:][ordered[1:] == ordered[:-1]]))
    if not len(suspects):
        return suspects, suspects
    _, lowest, back = np.unique(np.sort(rings[suspects], axis=1), axis=0, return_index=True, return_inverse=True)
    return suspects, suspects[lowest[back.ravel()]]


def _runs_against(rings: Rings, others: Rings) -> Flags:
    """(k,): whether each ring is the other one, read backwards from any corner."""
    backwards = from_lowest(others[:, ::-1])
    against: Flags = (from_lowest(rings) == backwards).all(axis=1) & (from_lowest(others) != backwards).any(axis=1)
    return against


def from_lowest(rings: Rings) -> Rings:
    """Rings (k, s), each turned so that its lowest vertex comes first."""
    steps = (rings.argmin(axis=1)[:, None] + np.arange(rings.shape[1])) % rings.shape[1]
    return np.take_along_axis(rings, steps, axis=1)
