"""The data that drawing needs about a frame's faces and UVs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats, Integers
from inspector.formats.frame import ABSENT, Frame
from inspector.surface.edges import edges_of, next_corner
from inspector.surface.triangles import Triangles


@dataclass(frozen=True, eq=False)
class Shape:
    """Triangles, edges and UVs of a frame.

    Attributes:
        triangles: Vertices of the triangles, (t, 3).
        face: Index of the face that each triangle is part of, (t,).
        edges: Vertices at both ends of the faces' edges, (e, 2). An edge that faces share is listed once.
        corner_uvs: UVs of the triangles' corners, (t, 3, 2) float64; NaN for a corner without a valid UV.
    """

    triangles: Integers
    face: Integers
    edges: Integers
    corner_uvs: Floats


def shape_of(frame: Frame, triangles: Triangles) -> Shape:
    """Make the shape of a frame from the triangles of its faces (see `inspector.surface.triangles.Triangulator`)."""
    corners = frame.corners
    vt = corners.vt[triangles.corners]
    uvs = np.full((*vt.shape, 2), np.nan)
    uvs[vt != ABSENT] = frame.uvs[vt[vt != ABSENT], :2]
    edges = edges_of(corners, corners.v)
    start = edges.side[np.flatnonzero(np.diff(edges.edge, prepend=-1))]
    ends = np.stack([corners.v[start], corners.v[next_corner(corners)[start]]], axis=-1)
    return Shape(triangles.vertices, triangles.face, ends, uvs)
