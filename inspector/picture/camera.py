"""Cameras that project points onto pixels, by perspective projection (as in a pinhole camera) or parallel projection.

The pixel in column i and row j has its centre at (i + 0.5, j + 0.5); x points to the right, and y points downward.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypedDict, Unpack

import numpy as np

from inspector.arrays import Floats

MARGIN = 1.05
"""Size of the visible area as a multiple of the extent of the framed points; above 1, so that nothing touches the edge
of the picture.
"""

_NEAR_SHARE = 1e-3
"""Distance of the near plane as a fraction of the distance to the target: small enough for the camera to move close to
a surface, and large enough that depths beyond the plane are safe divisors.
"""


@dataclass(frozen=True, eq=False)
class Camera:
    """A camera in a right-handed scene.

    Attributes:
        position: Position of the camera, (3,), in scene units.
        target: Point that the camera looks at, (3,), in scene units.
        up: Direction that is up in the picture, (3,), of any length and not necessarily perpendicular to the line of
            sight.
        field_of_view: Vertical field of view, in degrees; not used in a parallel projection.
        near: Distance of the near plane along the line of sight, in scene units.
        parallel_height: Height of the picture in a parallel projection, in scene units; None for a perspective
            projection.
    """

    position: Floats
    target: Floats
    up: Floats
    field_of_view: float = 30.0
    near: float = _NEAR_SHARE
    parallel_height: float | None = None

    @property
    def perspective(self) -> bool:
        """Whether the projection is perspective rather than parallel."""
        return self.parallel_height is None

    @property
    def distance(self) -> float:
        """Distance from the position to the target, in scene units."""
        return float(np.linalg.norm(self.target - self.position))

    @cached_property
    def axes(self) -> Floats:
        """Axes of the camera, (3, 3), as rows: unit vectors to the right, up in the picture, and along the line of
        sight.
        """
        forward = self.target - self.position
        forward = forward / np.linalg.norm(forward)
        right = np.cross(forward, self.up)
        if np.linalg.norm(right) < 1e-9 * np.linalg.norm(self.up):
            right = np.cross(forward, np.roll(self.up, 1))  # the line of sight is along up: any other axis will do
        right = right / np.linalg.norm(right)
        return np.stack([right, np.cross(right, forward), forward])

    def to_camera(self, points: Floats) -> Floats:
        """Convert points, (n, 3), from scene coordinates to camera coordinates, in scene units.

        Returns:
            Coordinates to the right, up, and along the line of sight (the depth), (n, 3).
        """
        return (points - self.position) @ self.axes.T

    def to_pixels(self, seen: Floats, width: int, height: int) -> Floats:
        """Project points from camera coordinates onto the picture.

        Args:
            seen: Camera coordinates of the points, (..., 3), from `to_camera`; for a perspective projection, clipped at
                the near plane, because the depth must be positive.
            width: Width of the picture, in pixels.
            height: Height of the picture, in pixels.

        Returns:
            x and y in pixels, and the unchanged depth, (..., 3).
        """
        if self.parallel_height is None:
            scale = height / (2.0 * np.tan(np.radians(self.field_of_view) / 2.0)) / seen[..., 2]
        else:
            scale = np.full(seen.shape[:-1], height / self.parallel_height)
        pixels = np.empty_like(seen)
        pixels[..., 0] = width / 2.0 + seen[..., 0] * scale
        pixels[..., 1] = height / 2.0 - seen[..., 1] * scale
        pixels[..., 2] = seen[..., 2]
        return pixels

    def project(self, points: Floats, width: int, height: int) -> Floats:
        """Project points from scene coordinates onto the picture.

        Args:
            points: The points, (n, 3), in scene units.
            width: Width of the picture, in pixels.
            height: Height of the picture, in pixels.

        Returns:
            x and y in pixels, and the depth, (n, 3). In a perspective projection, points closer than the near plane are
            NaN.
        """
        seen = self.to_camera(points)
        hidden = seen[:, 2] < self.near
        if self.perspective and hidden.any():
            seen[hidden, 2] = np.nan
        return self.to_pixels(seen, width, height)

    def turned(self, right: float, up: float) -> Camera:
        """Return the camera, moved around its target.

        Args:
            right: Angle to the right around the direction `self.up`, in degrees.
            up: Angle upward, in degrees, limited so that the camera never reaches a pole.
        """
        pole = self.up / np.linalg.norm(self.up)
        arm = _rotated(self.position - self.target, pole, right)
        length = float(np.linalg.norm(arm))
        latitude = np.degrees(np.arcsin(np.clip(arm @ pole / length, -1.0, 1.0)))
        level = arm - (arm @ pole) * pole
        if np.linalg.norm(level) < 1e-9 * length:
            level = -self.axes[1] * np.sign(latitude)
        raised = np.radians(np.clip(latitude + up, -89.0, 89.0))
        arm = length * (np.cos(raised) * level / np.linalg.norm(level) + np.sin(raised) * pole)
        return replace(self, position=self.target + arm)

    def shifted(self, right: float, up: float) -> Camera:
        """Return a copy of the camera in which both the camera and its target are moved parallel to the picture plane.

        Args:
            right: Distance to the right, as a fraction of the height that is visible at the target.
            up: Distance upward, as a fraction of the height that is visible at the target.
        """
        height = self.parallel_height
        if height is None:
            height = 2.0 * self.distance * float(np.tan(np.radians(self.field_of_view) / 2.0))
        way = height * (right * self.axes[0] + up * self.axes[1])
        return replace(self, position=self.position + way, target=self.target + way)

    def closer(self, factor: float) -> Camera:
        """Return the camera, moved so close to its target that objects there appear `factor` times as large."""
        arm = (self.position - self.target) / factor
        height = None if self.parallel_height is None else self.parallel_height / factor
        return replace(self, position=self.target + arm, near=self.near / factor, parallel_height=height)

    def zoomed(self, points: Floats, aspect: float) -> Camera:
        """Return this perspective camera, turned towards points and zoomed in until its picture just contains them.

        The position is unchanged. If no such view exists, the camera is returned unchanged.

        Args:
            points: The points, (n, 3), in scene units.
            aspect: Aspect ratio of the picture, width over height.
        """
        if not len(points):
            return self
        aimed = replace(self, target=(points.min(axis=0) + points.max(axis=0)) / 2.0)
        right, up, depth = np.abs(aimed.to_camera(points)).T
        reach = max(float(np.max(up / depth)), float(np.max(right / depth)) / aspect)
        if not (aimed.to_camera(points)[:, 2].min() > self.near and 0.0 < reach < np.inf):
            return self
        return replace(aimed, field_of_view=2.0 * float(np.degrees(np.arctan(reach))))


class Framing(TypedDict, total=False):
    """Optional properties of the camera that `frame_points` returns."""

    up: tuple[float, float, float]
    field_of_view: float
    aspect: float
    parallel: bool


def frame_box(box: Floats, direction: Floats, **framing: Unpack[Framing]) -> Camera:
    """Find the nearest camera that sees all of a box; see `frame_points`.

    Args:
        box: Minimum and maximum of the box, (2, 3), in scene units.
        direction: Direction of the line of sight, (3,), of any length.
        **framing: Optional properties of the camera, as in `frame_points`.
    """
    corners = np.array([[x, y, z] for x in box[:, 0] for y in box[:, 1] for z in box[:, 2]])
    return frame_points(corners, direction, **framing)


def frame_points(
    points: Floats,
    direction: Floats,
    *,
    up: tuple[float, float, float] = (0.0, 1.0, 0.0),
    field_of_view: float = 30.0,
    aspect: float = 16 / 9,
    parallel: bool = False,
) -> Camera:
    """Find the nearest camera that looks along a direction and sees all points, with MARGIN around them.

    A point is in the picture if its sideways distance from the line of sight is at most t = tan(field of view / 2)
    times its depth. For a camera at distance d and sideways position c, this means x - t z <= c + t d and c - t d <=
    x + t z, where x and z are relative to the centre of the points. The extremes of x - t z and x + t z therefore
    determine c and the smallest d.

    Args:
        points: One or more finite points, (n, 3), in scene units. If they all coincide, they are seen from a distance
            of one unit.
        direction: Direction of the line of sight, (3,), of any length.
        up: Direction that is up in the picture, (3,).
        field_of_view: Vertical field of view, in degrees.
        aspect: Aspect ratio of the picture, width over height.
        parallel: Whether the projection is parallel.
    """
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    forward = direction / np.linalg.norm(direction)
    aim = Camera(position=-forward, target=np.zeros(3), up=np.array(up), field_of_view=field_of_view)
    right, upward, along = ((points - middle) @ aim.axes.T).T
    half = np.tan(np.radians(field_of_view) / 2.0) / MARGIN
    slopes = (0.0, 0.0) if parallel else (half * aspect, half)
    sides = [((x - t * along).max(), (x + t * along).min()) for x, t in zip((right, upward), slopes, strict=True)]
    centre = sum(((high + low) / 2.0 * axis for (high, low), axis in zip(sides, aim.axes, strict=False)), middle)
    reach = max((sides[0][0] - sides[0][1]) / aspect, sides[1][0] - sides[1][1])
    distance = 2.0 * float(np.linalg.norm(np.ptp(points, axis=0))) if parallel else reach / (2.0 * half)
    distance = float(distance) if distance > 0.0 else 1.0
    distance = max(distance, 1e-9 * float(np.abs(centre).max()))  # far from the origin, one unit is lost in rounding
    return replace(
        aim,
        position=centre - distance * forward,
        target=centre,
        near=_NEAR_SHARE * distance,
        parallel_height=(MARGIN * float(reach) or 1.0) if parallel else None,
    )


def _rotated(vector: Floats, axis: Floats, degrees: float) -> Floats:
    """Rotate a vector about a unit axis, counter-clockwise as seen from the axis's tip (Rodrigues' rotation
    formula)."""
    angle = np.radians(degrees)
    across, along = np.cross(axis, vector), axis * (axis @ vector)
    return np.asarray(vector * np.cos(angle) + across * np.sin(angle) + along * (1.0 - np.cos(angle)))
