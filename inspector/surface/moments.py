"""Measure the centre and the second moments of a surface's area.

The values don't depend on how the surface is divided into faces. Therefore, an object can be tracked from frame to
frame even if its faces change.
"""

from __future__ import annotations

import math

import numpy as np

from inspector.arrays import Floats
from inspector.formats.frame import Frame
from inspector.surface.connections import rings_by_size
from inspector.surface.metric import cross, length

Moments = tuple[float, float, float, float, float, float, float, float, float]
"""The centre (x, y, z), and the elements xx, xy, xz, yy, yz and zz of a symmetric matrix, in scene units. The second
moments of the surface about the centre are divided by the area; the symmetric matrix is the square root of the
result."""

_ROWS, _COLUMNS = np.triu_indices(3)
_FACES_AT_ONCE = 1 << 13
"""Number of faces to measure in one batch, so that their corners fit in a core's own cache."""


@np.errstate(over="ignore", invalid="ignore")
def moments(frame: Frame) -> Moments | None:
    """Measure the centre and the second moments of a frame's surface (see `Moments`).

    Args:
        frame: The frame. Faces with a corner that has no legal vertex are left out.

    Returns:
        The moments; None if the surface has no area or a value is not finite.
    """
    if not len(frame.positions):
        return None
    origin = frame.positions.mean(axis=0)  # digits would be lost far from the scene's origin
    points = np.ascontiguousarray((frame.positions - origin).T)
    area, first, second = 0.0, np.zeros(3), np.zeros((3, 3))
    for _, rings in rings_by_size(frame.corners):
        for start in range(0, len(rings), _FACES_AT_ONCE):
            ring = np.ascontiguousarray(rings[start : start + _FACES_AT_ONCE].T)
            some = _of_faces(points.take(ring, axis=1))
            area, first, second = area + some[0], first + some[1], second + some[2]
    if not (0.0 < area < np.inf and np.isfinite(first).all() and np.isfinite(second).all()):
        return None
    centre = first / area
    values, axes = np.linalg.eigh(second / area - np.outer(centre, centre))
    root = (axes * np.sqrt(np.maximum(values, 0.0))) @ axes.T
    numbers = [*(origin + centre).tolist(), *root[_ROWS, _COLUMNS].tolist()]
    return tuple(numbers) if np.isfinite(numbers).all() else None


def _of_faces(corners: Floats) -> tuple[float, Floats, Floats]:
    """Measure the total area of faces, and the first and second moments of this area about the origin.

    For a regular polygon with s corners, the second moments about the centre, divided by the area, are the mean second
    moments of the corners times (2 + cos(2 pi / s)) / 6 (by integration over the triangles between the centre and each
    side). This is exact for every triangle and parallelogram, and approximate for any other face.

    Args:
        corners: The points of k faces, (3, s, k).

    Returns:
        The area, the first moments, (3,), and the second moments, (3, 3).
    """
    size = corners.shape[1]
    middle = corners.sum(axis=1) / size
    rays = corners - middle[:, None]
    if size == 4:  # half the cross product of the diagonals
        doubled = cross(rays[:, 2] - rays[:, 0], rays[:, 3] - rays[:, 1])
    else:
        doubled = cross(rays, np.roll(rays, -1, axis=1)).sum(axis=1)
    areas = length(doubled) / 2.0
    share = (2.0 + math.cos(2.0 * math.pi / size)) / (6.0 * size)
    within = share * ((rays * areas).reshape(3, -1) @ rays.reshape(3, -1).T)
    weighted = middle * areas
    return float(areas.sum()), weighted.sum(axis=1), within + weighted @ middle.T


def ellipsoid(measured: Moments) -> Floats:
    """Return six points, (6, 3), that move, rotate and scale with the surface: the centre plus and minus each row of
    the matrix in the moments."""
    centre, root = np.array(measured[:3]), np.empty((3, 3))
    root[_ROWS, _COLUMNS] = root[_COLUMNS, _ROWS] = measured[3:]
    return np.concatenate([centre + root, centre - root])
