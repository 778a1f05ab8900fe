"""The part of a frame that is needed for pictures and depends only on the frame's faces and UVs."""

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
        triangles: (t, 3), vertices.
        face: (t,), the face that each triangle is part of.
        edges: (e, 2), vertices at the ends of the faces' edges, each edge once.
        corner_uvs: (t, 3, 2) float64; NaN where a corner has no valid UV.
    """

    triangles: Integers
    face: Integers
    edges: Integers
    corner_uvs: Floats


def shape_of(frame: Frame, triangles: Triangles) -> Shape:
    """Make the shape of a frame.

    Args:
        frame: The frame.
        triangles: The frame's faces, cut into triangles (see `inspector.surface.triangles.Triangulator`).
    """
    corners = frame.corners
    vt = corners.vt[triangles.corners]
    uvs = np.full((*vt.shape, 2), np.nan)
    uvs[vt != ABSENT] = frame.uvs[vt[vt != ABSENT], :2]
    edges = edges_of(corners, corners.v)
    start = edges.side[np.flatnonzero(np.diff(edges.edge, prepend=-1))]
    ends = np.stack([corners.v[start], corners.v[next_corner(corners)[start]]], axis=-1)
    return Shape(triangles.vertices, triangles.face, ends, uvs)
