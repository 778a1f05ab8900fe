"""Find the triangle closest to each of many points, in a tree of boxes that is searched level by level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats, Indices

_AT_ONCE = 1 << 15
"""Number of points to process together, so that the data of one search fits in the processor's cache."""


@dataclass(frozen=True, slots=True, eq=False)
class Boxes:
    """The bounding boxes of one level of the tree. Each box encloses two boxes of the level below or, on the lowest
    level, one triangle.

    Attributes:
        low: Minimum x, y and z of each box, (b, 3).
        high: Maximum x, y and z of each box, (b, 3).
    """

    low: Floats
    high: Floats


class TriangleTree:
    """A search tree of triangles.

    Args:
        triangles: Corners of at least one triangle, (t, 3, 3). All coordinates must be finite.
    """

    def __init__(self, triangles: Floats) -> None:
        self._triangles = triangles
        self._order = _halved(triangles.mean(axis=1))
        placed = triangles[self._order]
        self._levels = [Boxes(placed.min(axis=1), placed.max(axis=1))]
        while len(self._levels[0].low) > 1:
            below = self._levels[0]
            pairs = below.low.reshape(-1, 2, 3).min(axis=1), below.high.reshape(-1, 2, 3).max(axis=1)
            self._levels.insert(0, Boxes(*pairs))

    def closest(self, points: Floats) -> tuple[Indices, Floats]:
        """Find the closest triangle to each point.

        Args:
            points: The points, (n, 3), in the unit of the triangles.

        Returns:
            Index of the closest triangle, (n,), and its distance, (n,).
        """
        parts = [self._closest(points[at : at + _AT_ONCE]) for at in range(0, max(1, len(points)), _AT_ONCE)]
        return np.concatenate([index for index, _ in parts]), np.concatenate([far for _, far in parts])

    def _closest(self, points: Floats) -> tuple[Indices, Floats]:
        """Find the closest triangles for at most _AT_ONCE points.

        The first search follows only the nearer box at each level, and gives an upper limit for the distance. The
        second search follows every box within this limit.
        """
        point: Indices = np.arange(len(points))
        box = np.zeros(len(points), np.int64)
        for boxes in self._levels[1:]:
            distances = [_box_distance(boxes, 2 * box + side, points) for side in (0, 1)]
            box = 2 * box + (distances[1] < distances[0]).astype(np.int64)
        index: Indices = self._order[box]
        bound = self._distance(box, points)
        box = np.zeros(len(points), np.int64)
        for boxes in self._levels[1:]:
            point = np.repeat(point, 2)
            box = (2 * box[:, None] + np.arange(2)).ravel()
            kept = _box_distance(boxes, box, points[point]) <= bound[point]
            point, box = point[kept], box[kept]
        far = self._distance(box, points[point])
        best = bound.copy()
        np.minimum.at(best, point, far)
        hits = far == best[point]
        index[point[hits]] = self._order[box[hits]]
        return index, best

    def _distance(self, leaf: Indices, points: Floats) -> Floats:
        """Return the distance of each point from the triangle in the point's box, (k,).

        Args:
            leaf: Index of each point's box, (k,).
            points: The points, (k, 3).
        """
        from trimesh.triangles import closest_point

        there: Floats = closest_point(self._triangles[self._order[leaf]], points)  # type: ignore[no-untyped-call]
        return np.asarray(np.linalg.norm(there - points, axis=1))


def _box_distance(boxes: Boxes, box: Indices, points: Floats) -> Floats:
    """Return the distance of each point from the point's box, (k,); 0 if the point is inside the box.

    Even after rounding, the result never exceeds the distance to any point in the box.

    Args:
        boxes: The boxes.
        box: Index of each point's box, (k,).
        points: The points, (k, 3).
    """
    outside = np.maximum(np.maximum(boxes.low[box] - points, points - boxes.high[box]), 0.0)
    return np.asarray(np.sqrt(np.einsum("ki,ki->k", outside, outside)) * (1.0 - 1e-9))


def barycentric(triangles: Floats, points: Floats) -> Floats:
    """Compute the barycentric coordinates of points projected onto the planes of triangles.

    Args:
        triangles: The triangles, (n, 3, 3), none with zero area.
        points: One point per triangle, (n, 3).

    Returns:
        Barycentric coordinates, (n, 3). The sum of each row is 1.
    """
    from trimesh.triangles import points_to_barycentric

    weights: Floats = points_to_barycentric(triangles, points)  # type: ignore[no-untyped-call]
    return weights


def _halved(centres: Floats) -> Indices:
    """Order points, (n, 3), by repeatedly dividing them in half along the longest side of their bounding box.

    Return the indices of the points in this order. The number of indices is a power of two, so some indices may occur
    twice.
    """
    rows = np.arange(1 << (len(centres) - 1).bit_length())[None] % len(centres)
    while rows.shape[1] > 1:
        points = centres[rows]
        longest = np.ptp(points, axis=1).argmax(axis=1)
        along = np.take_along_axis(points, longest[:, None, None], axis=2)[..., 0]
        rows = np.take_along_axis(rows, np.argsort(along, axis=1), axis=1).reshape(2 * len(rows), -1)
    return rows[:, 0]
