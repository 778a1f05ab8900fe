"""Find connected components, kinds of edges, and duplicate faces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector import _native
from inspector.arrays import Flags, Indices
from inspector.formats.frame import ABSENT, Corners
from inspector.surface.components import connected
from inspector.surface.edges import Edges, edges_of

Rings = npt.NDArray[np.integer]
"""Vertices of faces with the same number of corners, (k, size)."""


_COLUMNS = 1 << 10
"""Maximum number of corners per face that are hashed in one call."""

_ROWS = 1 << 16
"""Maximum number of faces that are hashed in one call, so that a large mesh is not copied as a whole."""


@dataclass(frozen=True, slots=True, eq=False)
class Connections:
    """How the faces of a frame are connected.

    Attributes:
        components: Number of connected components. Faces that share an edge are connected.
        boundary_edges: Number of edges that belong to one face.
        non_manifold_edges: Number of edges that belong to more than two faces.
        opposed_edges: Number of edges whose two faces traverse the edge in the same direction, so that one of the
            faces is flipped.
        unused: Number of vertices that no face uses.
        duplicates: Faces that have the same vertices as an earlier face and are not reversed, (d,), ascending.
        reversed_duplicates: Faces that have the same vertices as an earlier face in reverse order, (b,), ascending.
    """

    components: int
    boundary_edges: int
    non_manifold_edges: int
    opposed_edges: int
    unused: int
    duplicates: Indices
    reversed_duplicates: Indices


def is_closed(components: int, boundary_edges: int, non_manifold_edges: int) -> bool:
    """Whether faces form a closed surface: there are faces, and each of their edges belongs to exactly two faces."""
    return components > 0 and boundary_edges == non_manifold_edges == 0


def connect(corners: Corners, vertices: int) -> Connections:
    """Count the connected components, the edges of each kind and the unused vertices of a mesh, and find its duplicate
    faces.

    Args:
        corners: The faces. A corner without a legal vertex is part of no edge.
        vertices: Number of vertices in the frame, used or not.
    """
    duplicates, reversed_duplicates = same_corners(corners)
    if _native.active:
        return Connections(*_native.core.connect_faces(*corners.packed(), vertices), duplicates, reversed_duplicates)
    edges = edges_of(corners, corners.v)
    components = connected(len(corners.offsets) - 1, edges.links())
    used = np.zeros(vertices, bool)
    used[corners.v[corners.v != ABSENT]] = True
    return Connections(
        components=int(components.max(initial=-1)) + 1,
        boundary_edges=int((edges.uses == 1).sum()),
        non_manifold_edges=int((edges.uses > 2).sum()),
        opposed_edges=int(len(opposed_sides(corners, edges)) / 2),
        unused=vertices - int(used.sum()),
        duplicates=duplicates,
        reversed_duplicates=reversed_duplicates,
    )


def opposed_sides(corners: Corners, edges: Edges) -> Indices:
    """Find the edges whose two faces traverse them in the same direction, and return the corners at which the sides of
    these edges start, (k,)."""
    paired = edges.uses[edges.edge] == 2
    sides = edges.side[paired].reshape(-1, 2)
    return np.asarray(sides[corners.v[sides[:, 0]] == corners.v[sides[:, 1]]].ravel(), np.int64)


def same_corners(corners: Corners) -> tuple[Indices, Indices]:
    """Find the faces that have exactly the vertices of an earlier face, in any order.

    Returns:
        Faces whose vertices are not in reverse order, (d,), and faces whose vertices are in reverse order, (b,), both
        ascending.
    """
    if _native.active:
        flags = np.empty(len(corners.offsets) - 1, np.uint8)
        if _native.core.find_alike(*corners.packed(), flags) >= 0:
            some = np.flatnonzero(flags)
            duplicates, reversed_duplicates = _same_corners(corners.picked(some))
            return some[duplicates], some[reversed_duplicates]
    return _same_corners(corners)


def _same_corners(corners: Corners) -> tuple[Indices, Indices]:
    """Find the same faces as `same_corners`, with NumPy alone."""
    duplicates: list[Indices] = []
    reversed_duplicates: list[Indices] = []
    for faces, rings in rings_by_size(corners):
        order, first = _first_alike(rings)
        again = order[first != order]
        against = _runs_against(rings[again], rings[first[first != order]])
        duplicates.append(faces[again[~against]])
        reversed_duplicates.append(faces[again[against]])
    none = np.zeros(0, np.int64)
    return np.sort(np.concatenate([none, *duplicates])), np.sort(np.concatenate([none, *reversed_duplicates]))


def rings_by_size(corners: Corners) -> list[tuple[Indices, Rings]]:
    """Group the faces with at least 3 corners by their number of corners (size).

    Returns:
        For each size, the indices of the faces, (k,), ascending, and their vertices, (k, size). Faces with a corner
        that has no legal vertex are left out.
    """
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
    """Return the indices of the rings that may have the same vertices as another ring, (k,), and, for each of these
    rings, the index of the first ring that has the same vertices in any order, (k,). The first ring may be the ring
    itself."""
    # Different faces rarely have equal sums of squares, and equal sums are cheaper to find than equal rows.
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
    """Whether each ring is the reverse of the corresponding ring of `others`, (k,). The corner at which a ring starts
    has no effect.

    False if the ring is the same in both directions.
    """
    backwards = from_lowest(others[:, ::-1])
    against: Flags = (from_lowest(rings) == backwards).all(axis=1) & (from_lowest(others) != backwards).any(axis=1)
    return against


def from_lowest(rings: Rings) -> Rings:
    """Rotate each ring so that its lowest vertex comes first, (k, s)."""
    steps = (rings.argmin(axis=1)[:, None] + np.arange(rings.shape[1])) % rings.shape[1]
    return np.take_along_axis(rings, steps, axis=1)
