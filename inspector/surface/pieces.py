"""What hangs together on the surface, and where it is open. Positions don't matter, only the faces.

trimesh would split a mesh only with a further package for graphs, so this is done here; the tests compare the two.
"""

from __future__ import annotations

import numpy as np

from inspector.formats.frame import ABSENT, Corners
from inspector.surface.arrays import Indices
from inspector.surface.components import connected
from inspector.surface.edges import edges_of, next_corner


def pieces(corners: Corners) -> Indices:
    """Piece of each face, (f,): faces that share an edge are of one piece; numbered in the order of first faces."""
    return connected(len(corners.offsets) - 1, edges_of(corners, corners.v).links())


def boundary(corners: Corners) -> Indices:
    """(b, 2): vertices at the ends of the edges that only one face has, in the direction that face goes."""
    start = edges_of(corners, corners.v).lone_sides()
    return _ends(corners, start)


def crowded(corners: Corners) -> Indices:
    """(e, 2): vertices at the ends of the edges that more than two faces have."""
    edges = edges_of(corners, corners.v)
    firsts = np.flatnonzero(np.diff(edges.edge, prepend=-1))
    return _ends(corners, edges.side[firsts[edges.uses > 2]])


def is_closed(corners: Corners) -> bool:
    """Whether every edge has exactly two faces, and every corner a vertex."""
    uses = edges_of(corners, corners.v).uses
    return bool(len(uses)) and bool((uses == 2).all()) and not bool((corners.v == ABSENT).any())


def _ends(corners: Corners, start: Indices) -> Indices:
    return np.stack([corners.v[start], corners.v[next_corner(corners)[start]]], axis=-1).astype(np.int64)
