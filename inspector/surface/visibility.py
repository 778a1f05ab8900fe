"""Which points of a surface an eye sees, and which the surface itself hides. Exact: no picture is drawn for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats, Indices

PAIRS_TRIED = 1 << 13
"""Pairs of a point and a triangle tried together before points are halved. Halving costs about as much as trying
them."""

_RAY_RIM = 1e-9
"""Share of a triangle's side by which a ray may pass beside it and still hit it, so that no ray slips between two
triangles."""

_RAY_START = 1e-6
"""Share of the distance from a point to the eye within which the surface does not hide the point, because it is the
point's own. Positions are written with six or seven digits."""


@dataclass(frozen=True, eq=False)
class Eye:
    """position (3,), scene units; axes (3, 3): unit vectors to the right, up and forward; parallel: rays don't meet."""

    position: Floats
    axes: Floats
    parallel: bool = False

    def from_points(self, points: Floats) -> Floats:
        """(s, 3): from points to the eye; with parallel rays, to the plane across the line of sight at the eye."""
        if not self.parallel:
            return self.position - points
        depth = (points - self.position) @ self.axes[2]
        rays: Floats = -depth[:, None] * self.axes[2]
        return rays

    def directions(self, points: Floats) -> tuple[Floats, Floats]:
        """Where points (..., 3) are seen, (..., 2), and their depth along the line of sight; NaN behind the eye."""
        turned = (points - self.position) @ self.axes.T
        depth = turned[..., 2]
        ahead = np.where(depth > 0.0, depth, np.nan)
        across = turned[..., :2] + 0.0 * ahead[..., None] if self.parallel else turned[..., :2] / ahead[..., None]
        return across, depth


def unhidden(points: Floats, own: Indices, corners: Floats, eye: Eye) -> Flags:
    """(s,): points (s, 3) in front of the eye that no triangle of corners (t, 3, 3) hides from it.

    own (s,): the triangle that each point lies on, which never hides it. A surface that touches the point doesn't
    either. Points at or behind the eye are not seen.
    """
    across, depth = eye.directions(points)
    free: Flags = depth > 0.0
    ahead = np.flatnonzero(free)
    rays = eye.from_points(points)
    for sample, triangle in _pairs(_boxes(corners, eye), across, ahead):
        hidden = _between(points[sample], rays[sample], corners[triangle]) & (triangle != own[sample])
        free[sample[hidden]] = False
    return free


def _boxes(corners: Floats, eye: Eye) -> Floats:
    """(4, t): least x and y, largest x and y of the directions in which triangles are seen. Without end for one that
    reaches behind the eye; NaN for one that lies there wholly, or has a bad number."""
    ends = [eye.directions(corners[:, corner]) for corner in range(3)]
    (a, b, c), depths = (across for across, _ in ends), np.stack([depth for _, depth in ends])
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    rim = _RAY_RIM * np.maximum(np.abs(low), np.abs(high))
    boxes = np.concatenate([(low - rim).T, (high + rim).T])
    nearest, furthest = depths.min(axis=0), depths.max(axis=0)
    boxes[:, (nearest <= 0.0) & (furthest > 0.0)] = [[-np.inf], [-np.inf], [np.inf], [np.inf]]
    return boxes


def _pairs(boxes: Floats, points: Floats, ahead: Indices) -> Iterator[tuple[Indices, Indices]]:
    """Points and the triangles whose box they lie in: points are halved, and with them the triangles to try."""
    pending = [(ahead, np.arange(boxes.shape[1]))] if len(ahead) else []
    while pending:
        some, near = pending.pop()
        low, high = points[some].min(axis=0), points[some].max(axis=0)
        near = near[_overlap(boxes[:, near], low[:, None], high[:, None])]
        if len(some) == 1 or len(some) * len(near) <= PAIRS_TRIED:
            sample, triangle = np.repeat(some, len(near)), np.tile(near, len(some))
            within = _overlap(boxes[:, triangle], points[sample].T, points[sample].T)
            yield sample[within], triangle[within]
        else:
            along = some[points[some, int((high - low).argmax())].argsort(kind="stable")]
            pending += [(half, near) for half in np.array_split(along, 2)]


def _overlap(boxes: Floats, low: Floats, high: Floats) -> Flags:
    """(k,): which boxes (4, k) share a point with the boxes from low (2, k) to high (2, k)."""
    left, bottom, right, top = boxes
    shared: Flags = (left <= high[0]) & (right >= low[0]) & (bottom <= high[1]) & (top >= low[1])
    return shared


def _between(points: Floats, rays: Floats, corners: Floats) -> Flags:
    """(p,): whether the way from a point (p, 3) along its ray (p, 3), whole, meets its triangle (p, 3, 3).

    Möller and Trumbore 1997, "Fast, Minimum Storage Ray-Triangle Intersection"; both sides of a triangle count.
    """
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    across = np.cross(rays, second)
    determinant = np.einsum("pi,pi->p", first, across)
    start = points - corners[:, 0]
    other = np.cross(start, first)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        u = np.einsum("pi,pi->p", start, across) / determinant
        v = np.einsum("pi,pi->p", rays, other) / determinant
        way = np.einsum("pi,pi->p", second, other) / determinant
        third = 1.0 - u - v  # infinite or NaN, and so no meeting, where the ray runs along the triangle
    rim = _RAY_RIM
    met: Flags = (u >= -rim) & (v >= -rim) & (third >= -rim) & (way > _RAY_START) & (way < 1.0)
    return met
