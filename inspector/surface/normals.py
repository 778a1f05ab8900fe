"""Calculate normals of triangles, faces and groups of corners."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats
from inspector.surface.triangles import Triangles

_Places = np.ndarray[tuple[int, ...], np.dtype[np.integer]]


def area_vectors(positions: Floats, triangles: Triangles) -> Floats:
    """Calculate the area vectors of triangles. Each vector is perpendicular to its triangle, and its length is the
    triangle's area.

    Args:
        positions: Positions of the vertices, (n, 3), in scene units.
        triangles: The triangles.

    Returns:
        The vectors, (t, 3). Seen from the side to which a vector points, the corners of its triangle run
        counter-clockwise.
    """
    a, b, c = np.moveaxis(positions[triangles.vertices], 1, 0)
    half: Floats = np.cross(b - a, c - a) / 2.0
    return half


def face_normals(positions: Floats, triangles: Triangles, faces: int) -> Floats:
    """Calculate the unit normals of faces, in the direction of the sum of the area vectors of each face's triangles.

    Args:
        positions: Positions of the vertices, (n, 3), in scene units.
        triangles: The triangles of the faces.
        faces: Number of faces.

    Returns:
        The normals, (faces, 3); 0 for a face whose area is 0, or that has a coordinate that is not finite.
    """
    return unit(gathered(triangles.face, area_vectors(positions, triangles), faces))


def grouped_normals(positions: Floats, triangles: Triangles, group: _Places, count: int) -> Floats:
    """Calculate the unit normals of groups of corners: the means of the triangles' normals, weighted by the angles at
    the corners.

    With these weights, the normal doesn't depend on how faces are cut into triangles (Thürmer and Wüthrich 1998,
    "Computing Vertex Normals from Polygonal Facets").

    Args:
        positions: Positions of the vertices, (n, 3).
        triangles: The triangles.
        group: The group of each corner, counted from 0, (t, 3).
        count: Number of groups.

    Returns:
        The normals, (count, 3); 0 for a group whose triangles have no area.
    """
    facing = unit(area_vectors(positions, triangles))
    weighted = _angles(positions[triangles.vertices])[:, :, None] * facing[:, None, :]
    return unit(gathered(group.ravel(), weighted.reshape(-1, 3), count))


def unit(vectors: Floats) -> Floats:
    """Scale vectors, (..., 3), to length 1. A vector becomes 0 if its length is 0, or if it has a component that is not
    finite."""
    with np.errstate(over="ignore", invalid="ignore"):
        length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    good = np.isfinite(length) & (length > 0.0)
    units: Floats = np.divide(vectors, length, out=np.zeros_like(vectors), where=good)
    # For these vectors, the square of the length overflows or underflows float64.
    lost = ~good[..., 0] & np.isfinite(vectors).all(axis=-1) & vectors.any(axis=-1)
    if lost.any():
        scaled = vectors[lost] / np.abs(vectors[lost]).max(axis=-1, keepdims=True)
        units[lost] = scaled / np.linalg.norm(scaled, axis=-1, keepdims=True)
    return units


def _angles(corners: Floats) -> Floats:
    """Calculate the angles at the corners of triangles, (t, 3), in radians."""
    forth = unit(np.roll(corners, -1, axis=1) - corners)
    back = unit(np.roll(corners, 1, axis=1) - corners)
    angles: Floats = np.arccos(np.clip(np.einsum("tci,tci->tc", forth, back), -1.0, 1.0))
    return angles


def gathered(where: _Places, vectors: Floats, count: int) -> Floats:
    """Sum vectors by group.

    Args:
        where: The group of each vector, counted from 0, (k,).
        vectors: The vectors, (k, 3).
        count: Number of groups.

    Returns:
        The sum of each group, (count, 3).
    """
    return np.stack([np.bincount(where, vectors[:, axis], minlength=count) for axis in range(3)], axis=-1)
