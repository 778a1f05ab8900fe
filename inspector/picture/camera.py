"""Cameras that project points onto pixels, with a pinhole or in parallel.

Pixel (column i, row j) covers i..i+1 to the right and j..j+1 downward; its centre is (i + 0.5, j + 0.5).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypedDict, Unpack

import numpy as np

from inspector.arrays import Floats

MARGIN = 1.05
"""Width of a framed picture as a multiple of the width of the box. It is above 1, so that nothing touches the edge."""

_NEAR_SHARE = 1e-3
"""Distance of the near plane as a share of the distance to the target. It is small enough for the camera to move close
to a surface, and large enough to divide by."""


@dataclass(frozen=True, eq=False)
class Camera:
    """A camera in scene units, right-handed.

    Attributes:
        position: (3,).
        target: (3,), the point that the camera looks at.
        up: (3,), of any length; it need not be perpendicular to the line of sight.
        field_of_view: Vertical field of view, degrees; unused in a parallel projection.
        near: Distance of the near plane along the line of sight.
        parallel_height: Height of the picture in scene units if lines of sight are parallel; None for a pinhole.
    """

    position: Floats
    target: Floats
    up: Floats
    field_of_view: float = 30.0
    near: float = _NEAR_SHARE
    parallel_height: float | None = None

    @property
    def perspective(self) -> bool:
        """Whether the camera is a pinhole."""
        return self.parallel_height is None

    @property
    def distance(self) -> float:
        """Distance from position to target, scene units."""
        return float(np.linalg.norm(self.target - self.position))

    @cached_property
    def axes(self) -> Floats:
        """Unit vectors to the right, up in the picture, and along the line of sight, as the rows of (3, 3)."""
        forward = self.target - self.position
        forward = forward / np.linalg.norm(forward)
        right = np.cross(forward, self.up)
        if np.linalg.norm(right) < 1e-9 * np.linalg.norm(self.up):
            right = np.cross(forward, np.roll(self.up, 1))  # looking straight along up: any other axis will do
        right = right / np.linalg.norm(right)
        return np.stack([right, np.cross(right, forward), forward])

    def to_camera(self, points: Floats) -> Floats:
        """Convert points from the scene to camera space.

        Args:
            points: (n, 3), scene units.

        Returns:
            (n, 3): right, up, and depth along the line of sight, scene units.
        """
        return (points - self.position) @ self.axes.T

    def to_pixels(self, seen: Floats, width: int, height: int) -> Floats:
        """Project points from camera space.

        Args:
            seen: (..., 3), from `to_camera`. With a pinhole camera, clip them at the near plane first: x and y are
                meaningless if the depth is not positive.
            width: Width of the picture, pixels.
            height: Height of the picture, pixels.

        Returns:
            (..., 3): x and y in pixels, and the depth unchanged.
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
        """Project points from the scene.

        Args:
            points: (n, 3), scene units.
            width: Width of the picture, pixels.
            height: Height of the picture, pixels.

        Returns:
            (n, 3): x and y in pixels, and the depth. With a pinhole, NaN for points closer than the near plane.
        """
        seen = self.to_camera(points)
        hidden = seen[:, 2] < self.near
        if self.perspective and hidden.any():
            seen[hidden, 2] = np.nan
        return self.to_pixels(seen, width, height)

    def turned(self, right: float, up: float) -> Camera:
        """Orbit around the target.

        Args:
            right: Degrees to the right around `up`.
            up: Degrees upward, limited so that the pole is not reached.
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
        """Move the position and the target parallel to the picture plane.

        Args:
            right: Distance to the right, as a share of the picture's height at the target.
            up: Distance upward, as a share of the picture's height at the target.
        """
        height = self.parallel_height
        if height is None:
            height = 2.0 * self.distance * float(np.tan(np.radians(self.field_of_view) / 2.0))
        way = height * (right * self.axes[0] + up * self.axes[1])
        return replace(self, position=self.position + way, target=self.target + way)

    def closer(self, factor: float) -> Camera:
        """Move closer, so that objects at the target appear `factor` times as large."""
        arm = (self.position - self.target) / factor
        height = None if self.parallel_height is None else self.parallel_height / factor
        return replace(self, position=self.target + arm, near=self.near / factor, parallel_height=height)

    def zoomed(self, points: Floats, aspect: float) -> Camera:
        """Turn a pinhole camera to points and narrow its field of view to just contain them. Its position is unchanged.

        Objects that hide the points in this picture also hide them in the new picture. If there is no such view, the
        camera is returned unchanged.

        Args:
            points: (n, 3), scene units.
            aspect: Width over height of the picture.
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
    """The properties of a framed camera; see `frame_points`."""

    up: tuple[float, float, float]
    field_of_view: float
    aspect: float
    parallel: bool


def frame_box(box: Floats, direction: Floats, **framing: Unpack[Framing]) -> Camera:
    """Find the nearest camera that sees all of a box; see `frame_points`.

    Args:
        box: (2, 3), minimum and maximum, scene units.
        direction: (3,), line of sight, of any length.
        **framing: Properties of the camera, as in `frame_points`.
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

    A point is in the picture if it is within t = tan(field of view / 2) times its depth to each side. For a camera at
    distance d, that is x - t z <= c + t d and c - t d <= x + t z, where x and z are relative to the centre. The
    extremes of x - t z and x + t z therefore determine the smallest d and the camera's sideways position c.

    Args:
        points: (n, 3), finite, n at least 1, scene units. Points without extent are seen from a distance of one unit.
        direction: (3,), line of sight, of any length.
        up: (3,), direction that is up in the picture.
        field_of_view: Vertical field of view, degrees.
        aspect: Width over height of the picture, with square pixels.
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
    distance = max(distance, 1e-9 * float(np.abs(centre).max()))  # far out, a unit is lost in rounding
    return replace(
        aim,
        position=centre - distance * forward,
        target=centre,
        near=_NEAR_SHARE * distance,
        parallel_height=(MARGIN * float(reach) or 1.0) if parallel else None,
    )


def _rotated(vector: Floats, axis: Floats, degrees: float) -> Floats:
    """Rotate about a unit axis, counter-clockwise as seen from its tip (Rodrigues' rotation formula)."""
    angle = np.radians(degrees)
    across, along = np.cross(axis, vector), axis * (axis @ vector)
    return np.asarray(vector * np.cos(angle) + across * np.sin(angle) + along * (1.0 - np.cos(angle)))
