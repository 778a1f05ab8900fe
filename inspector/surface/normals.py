"""Directions across the surface."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats
from inspector.surface.triangles import Triangles

_Places = np.ndarray[tuple[int, ...], np.dtype[np.integer]]


def area_vectors(positions: Floats, triangles: Triangles) -> Floats:
    """(t, 3): across each triangle, to the side from which its corners run counter-clockwise, its area long."""
    a, b, c = np.moveaxis(positions[triangles.vertices], 1, 0)
    half: Floats = np.cross(b - a, c - a) / 2.0
    return half


def face_normals(positions: Floats, triangles: Triangles, faces: int) -> Floats:
    """Unit normals (faces, 3): the sum of a face's triangles; 0 where a face has no area or a bad number."""
    return unit(gathered(triangles.face, area_vectors(positions, triangles), faces))


def grouped_normals(positions: Floats, triangles: Triangles, group: _Places, count: int) -> Floats:
    """Unit normals (count, 3): mean over the triangles' corners of one group, group (t, 3), each by its angle; 0 for a
    group without any that has an area.

    Thürmer and Wüthrich 1998, "Computing Vertex Normals from Polygonal Facets": so weighted, the normal doesn't
    depend on how faces are cut into triangles.
    """
    facing = unit(area_vectors(positions, triangles))
    weighted = _angles(positions[triangles.vertices])[:, :, None] * facing[:, None, :]
    return unit(gathered(group.ravel(), weighted.reshape(-1, 3), count))


def unit(vectors: Floats) -> Floats:
    """(..., 3) at length 1; 0 where the length is 0 or no number."""
    with np.errstate(over="ignore", invalid="ignore"):
        length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    good = np.isfinite(length) & (length > 0.0)
    units: Floats = np.divide(vectors, length, out=np.zeros_like(vectors), where=good)
    # A square beyond what a float64 holds, above or below: the vector has a length all the same.
    lost = ~good[..., 0] & np.isfinite(vectors).all(axis=-1) & vectors.any(axis=-1)
    if lost.any():
        scaled = vectors[lost] / np.abs(vectors[lost]).max(axis=-1, keepdims=True)
        units[lost] = scaled / np.linalg.norm(scaled, axis=-1, keepdims=True)
    return units


def _angles(corners: Floats) -> Floats:
    """Angle at each corner of triangles (t, 3, 3), radians, (t, 3)."""
    forth = unit(np.roll(corners, -1, axis=1) - corners)
    back = unit(np.roll(corners, 1, axis=1) - corners)
    angles: Floats = np.arccos(np.clip(np.einsum("tci,tci->tc", forth, back), -1.0, 1.0))
    return angles


def gathered(where: _Places, vectors: Floats, count: int) -> Floats:
    """Vectors (k, 3) summed by their place (k,), (count, 3)."""
    return np.stack([np.bincount(where, vectors[:, axis], minlength=count) for axis in range(3)], axis=-1)
