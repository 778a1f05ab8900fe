"""Small meshes and a slow reference rasteriser, for tests of pictures."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.formats.frame import Corners, Frame
from inspector.picture.camera import Floats
from inspector.picture.raster import Counts


def sphere(radius: float, around: int, along: int) -> tuple[Floats, Counts]:
    """Return the positions and triangles of a sphere about the origin. The vertices are on a grid of latitudes and
    longitudes."""
    longitude = np.arange(around) * 2.0 * np.pi / around
    latitude = np.linspace(-np.pi / 2.0, np.pi / 2.0, along + 1)[:, None]
    shape = (along + 1, around)
    x, y, z = np.cos(latitude) * np.cos(longitude), np.sin(latitude), np.cos(latitude) * np.sin(longitude)
    positions = radius * np.stack([np.broadcast_to(part, shape) for part in (x, y, z)], axis=-1).reshape(-1, 3)
    ring, place = np.mgrid[:along, :around]
    a, b = ring * around + place, ring * around + (place + 1) % around
    quads = np.stack([a, b, b + around, a + around], axis=-1).reshape(-1, 4)
    return positions, np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])


def brute_force(corners: Floats, width: int, height: int, *, perspective: bool) -> tuple[Counts, Floats, Counts]:
    """Return the nearest triangle at each pixel, its nearness, and the number of triangles there, each (height, width).

    Nearness is 1 / depth in perspective, and -depth otherwise. If there is no triangle, the values are -1, -inf and 0.

    Source of the edge functions: Pineda 1988, "A parallel algorithm for polygon rasterization". The top-left rule is
    common in graphics hardware (Direct3D 11 functional specification, 3.4.1, from memory). Only the grid to which
    corners are rounded is the same as in the code under test.
    """
    owner, count = np.full((height, width), -1), np.zeros((height, width), int)
    nearest = np.full((height, width), -np.inf)
    for number, triangle in enumerate(corners.tolist()):
        points = [(2 * round(x * 4096), 2 * round(y * 4096)) for x, y, _ in triangle]
        near = [Fraction(z) ** -1 if perspective else -Fraction(z) for _, _, z in triangle]
        area = _edge(points[0], points[1], points[2])
        if area == 0:
            continue
        if area < 0:
            points, near, area = points[::-1], near[::-1], -area
        for row in range(height):
            for column in range(width):
                centre = 4096 * (2 * column + 1), 4096 * (2 * row + 1)
                edges = [_edge(points[i - 2], points[i - 1], centre) for i in range(3)]
                if not all(e > 0 or (e == 0 and _top_left(points[i - 2], points[i - 1])) for i, e in enumerate(edges)):
                    continue
                count[row, column] += 1
                value = float(sum(e * n for e, n in zip(edges, near, strict=True)) / area)
                if value > nearest[row, column]:
                    owner[row, column], nearest[row, column] = number, value
    return owner, nearest, count


Point = tuple[int, int]
"""The x and y coordinates of a point, in units of 1/8192 pixel. Corners are rounded to 1/4096 pixel."""


def _edge(a: Point, b: Point, p: Point) -> int:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def _top_left(a: Point, b: Point) -> bool:
    """Return whether the edge from `a` to `b` is a top edge (horizontal, to the right) or a left edge (upward).

    The corners are clockwise on a screen.
    """
    return b[1] < a[1] or (b[1] == a[1] and b[0] > a[0])


def frame_of(positions: Floats, faces: list[list[int]], uvs: Floats | None = None) -> Frame:
    """Return a frame without the text of a file. Each corner uses the UV with the same index as its vertex."""
    v = np.array([vertex for face in faces for vertex in face], np.int32)
    offsets = np.cumsum([0, *map(len, faces)]).astype(np.int64)
    absent = np.full_like(v, -1)
    corners = Corners(offsets, v, absent if uvs is None else v, absent)
    none = np.zeros((0, 2)) if uvs is None else uvs
    return Frame(b"", (), positions, none, np.zeros((0, 3)), corners, (), ())
