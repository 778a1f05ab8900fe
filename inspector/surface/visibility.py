"""Find which points of a surface are visible from a viewpoint. The test is exact, and no picture is rendered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.surface.metric import cross

PAIRS_TRIED = 1 << 16
"""Maximum number of point-triangle pairs to test in one batch (about 10 MB), unless a single triangle has more."""

_RAY_RIM = 1e-9
"""A ray counts as hitting a triangle if it misses the triangle by at most this fraction of the triangle's sides. With
this tolerance, no ray slips between two triangles."""

_RAY_START = 1e-6
"""A triangle doesn't hide a point if its distance from the point, along the line of sight, is at most this fraction of
the distance from the point to the eye. The reason is that positions have only six or seven digits."""


@dataclass(frozen=True, eq=False)
class Eye:
    """A viewpoint.

    Attributes:
        position: The position of the eye, (3,), in scene units.
        axes: Unit vectors to the right, up and forward, (3, 3).
        parallel: Whether lines of sight are parallel, as in an orthographic view.
    """

    position: Floats
    axes: Floats
    parallel: bool = False

    def from_points(self, points: Floats) -> Floats:
        """Return the vectors, (s, 3), from points, (s, 3), to the eye, in scene units.

        In a parallel view, the vectors end at the plane through the eye that is perpendicular to the line of sight.
        """
        if not self.parallel:
            return self.position - points
        depth = (points - self.position) @ self.axes[2]
        rays: Floats = -depth[:, None] * self.axes[2]
        return rays

    def directions(self, points: Floats) -> tuple[Floats, Floats]:
        """Calculate the directions in which points are seen, and the depths of the points.

        Args:
            points: The points, (..., 3), in scene units.

        Returns:
            The directions, (..., 2), and the depths along the line of sight, (...), in scene units. Directions are
            tangents of angles or, in a parallel view, distances in scene units; NaN for a point that is not in front of
            the eye.
        """
        turned = (points - self.position) @ self.axes.T
        depth = turned[..., 2]
        ahead = np.where(depth > 0.0, depth, np.nan)
        across = turned[..., :2] + 0.0 * ahead[..., None] if self.parallel else turned[..., :2] / ahead[..., None]
        return across, depth


def unhidden(points: Floats, own: Indices, positions: Floats, vertices: Indices, eye: Eye) -> Flags:
    """Find the points that the eye sees.

    Args:
        points: The points, (s, 3), in scene units.
        own: The triangle that each point is on, (s,). Neither this triangle nor a surface that touches the point hides
            the point.
        positions: Positions of the vertices, (n, 3), in scene units.
        vertices: Indices of each triangle's vertices in the positions, (t, 3).
        eye: The viewpoint.

    Returns:
        Whether each point is in front of the eye and not hidden by a triangle, (s,).
    """
    across, depth = eye.directions(points)
    free: Flags = depth > 0.0
    ahead = np.flatnonzero(free)
    rays = eye.from_points(points)
    for sample, triangle in _pairs(_boxes(positions, vertices, eye), across, ahead):
        other = positions[vertices[triangle]]
        hidden = _between(points[sample], rays[sample], other) & (triangle != own[sample])
        free[sample[hidden]] = False
    return free


def _boxes(positions: Floats, vertices: Indices, eye: Eye) -> Floats:
    """Calculate a box around the directions in which each triangle is seen, (4, t).

    The rows are the smallest x, the smallest y, the largest x and the largest y. The values are infinite for a triangle
    that is partly behind the eye, and NaN for a triangle that is completely behind the eye or has a coordinate that is
    not finite.
    """
    across, depth = eye.directions(positions)
    corner = vertices.T
    places = np.concatenate([across.T, depth[None]])  # row by row: gathering single numbers is faster
    ends = [
        (np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)) for a, b, c in places.take(corner, axis=1)
    ]
    low, high = (np.stack([end[side] for end in ends[:2]]) for side in range(2))
    rim = _RAY_RIM * np.maximum(np.abs(low), np.abs(high))
    boxes = np.concatenate([low - rim, high + rim])
    nearest, furthest = ends[2]
    boxes[:, (nearest <= 0.0) & (furthest > 0.0)] = [[-np.inf], [-np.inf], [np.inf], [np.inf]]
    return boxes


def _pairs(boxes: Floats, points: Floats, ahead: Indices) -> Iterator[tuple[Indices, Indices]]:
    """Yield pairs of a point and a triangle whose box contains the point. Up to PAIRS_TRIED pairs are tested per
    batch."""
    orders = [ahead[points[ahead, axis].argsort()] for axis in range(2)]
    starts = [points[order, axis].searchsorted(boxes[axis], "left") for axis, order in enumerate(orders)]
    ends = [points[order, axis].searchsorted(boxes[2 + axis], "right") for axis, order in enumerate(orders)]
    counts = np.maximum(np.subtract(ends, starts), 0)
    near = np.flatnonzero(counts.all(axis=0))
    counts = counts[:, near]
    axis = int(counts.sum(axis=1).argmin())
    order, start, count, (low, high) = orders[axis], starts[axis][near], counts[axis], boxes[1 - axis :: 2, near]
    tried = count.cumsum()
    while len(near):
        stop = max(1, int(tried.searchsorted(PAIRS_TRIED, "right")))
        which = np.repeat(np.arange(stop), count[:stop])
        sample = order[np.arange(len(which)) + np.repeat(start[:stop] - tried[:stop] + count[:stop], count[:stop])]
        across = points[sample, 1 - axis]
        within = (across >= low[which]) & (across <= high[which])
        yield sample[within], near[which[within]]
        near, start, count, low, high = near[stop:], start[stop:], count[stop:], low[stop:], high[stop:]
        tried = tried[stop:] - tried[stop - 1]


def _between(points: Floats, rays: Floats, corners: Floats) -> Flags:
    """Whether each ray hits its triangle between the start and the end of the ray, (p,).

    A ray can hit a triangle from either side. Source: Möller and Trumbore 1997, "Fast, Minimum Storage Ray-Triangle
    Intersection".

    Args:
        points: The start of each ray, (p, 3).
        rays: The vector from the start of each ray to its end, (p, 3).
        corners: The triangle of each ray, (p, 3, 3).
    """
    ray, (zero, one, two) = rays.T, corners.transpose(1, 2, 0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        first, second = one - zero, two - zero
        across = cross(ray, second)
        start = points.T - zero
        other = cross(start, first)
        determinant = _dot(first, across)
        u = _dot(start, across) / determinant
        v = _dot(ray, other) / determinant
        way = _dot(second, other) / determinant
        third = 1.0 - u - v  # infinite or NaN, so no hit, if the ray is parallel to the triangle
    rim = _RAY_RIM
    met: Flags = (u >= -rim) & (v >= -rim) & (third >= -rim) & (way > _RAY_START) & (way < 1.0)
    return met


def _dot(one: Floats, other: Floats) -> Floats:
    """Calculate the dot products of two arrays of vectors, (3, p) each."""
    return np.asarray(np.einsum("ip,ip->p", one, other))
