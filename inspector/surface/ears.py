"""Concave polygons cut into triangles by clipping ears (Meisters 1975, "Polygons have ears")."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats, Indices

_Point = tuple[float, float]


def clip_ears(ring: Floats) -> Indices:
    """Cut a polygon into triangles.

    The areas of the triangles add up to the polygon's area unless it crosses itself; it is cut in that case too.

    Args:
        ring: (s, 2), its corners, counter-clockwise.

    Returns:
        (s - 2, 3), indices into `ring`, counter-clockwise.
    """
    points: list[_Point] = [(x, y) for x, y in ring.tolist()]
    left = list(range(len(points)))
    ears: list[tuple[int, int, int]] = []
    while len(left) > 3:
        place = next((place for place in range(len(left)) if _is_ear(points, left, place)), 0)
        ears.append((left[place - 1], left[place], left[(place + 1) % len(left)]))
        del left[place]
    return np.array([*ears, tuple(left)], np.int64)


def _is_ear(points: list[_Point], left: list[int], place: int) -> bool:
    """Whether the corner is convex and no other corner is in the triangle that it forms with its neighbours."""
    ear = points[left[place - 1]], points[left[place]], points[left[(place + 1) % len(left)]]
    if _turn(*ear) <= 0.0:
        return False
    return not any(points[other] not in ear and _inside(points[other], ear) for other in left)


def _inside(point: _Point, triangle: tuple[_Point, _Point, _Point]) -> bool:
    a, b, c = triangle
    return _turn(a, b, point) >= 0.0 and _turn(b, c, point) >= 0.0 and _turn(c, a, point) >= 0.0


def _turn(a: _Point, b: _Point, c: _Point) -> float:
    """Twice the signed area of the triangle: positive if a, b, c go counter-clockwise."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
