"""Determine whether lettering on the surface reads upright, rotated or mirrored."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats
from inspector.surface.metric import Metric, cross, length
from inspector.threshold import Threshold

UPRIGHT_DEGREES = 15.0
"""Maximum rotation of lettering that counts as upright, in degrees. Lettering that is rotated further looks tilted on
purpose (common practice, no source)."""

READ_TURN = Threshold(
    "read-turn",
    45.0,
    "Text counts as readable if the angle between its lines and the picture's horizontal is at most this value. At a "
    "larger angle, the lines are closer to vertical than to horizontal.",
    unit="degrees",
)

DIRECTION_SPREAD = Threshold(
    "direction-spread",
    0.5,
    "Maximum spread of the direction of lettering over a surface, from 0 (the same everywhere) to 1 (no common "
    "direction). Up to this spread, a single angle is given. Above it, the direction varies so much that a single "
    "angle is meaningless.",
)

FLAT_TILT = Threshold(
    "flat-tilt",
    0.5,
    "A surface counts as level if the mean sine of the angle between its normal and the scene's up direction is below "
    "this value. A sine of 0.5 is an angle of 30 degrees. On a level surface, even small waves change which direction "
    "along the surface points up.",
)

Direction = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Upright:
    """The up and front directions of the scene.

    Attributes:
        up: Vector of any length that points up.
        front: Vector of any length that points to the viewer, perpendicular to `up`.
    """

    up: Direction = (0.0, 1.0, 0.0)
    front: Direction = (0.0, 0.0, 1.0)

    @property
    def name(self) -> str:
        """The axis closest to the up direction: x, y or z."""
        return max("xyz", key=lambda axis: abs(self.up["xyz".index(axis)]))


@dataclass(frozen=True, slots=True)
class Reading:
    """How lettering that is upright in the texture reads to a viewer who looks at the front of the faces.

    Attributes:
        turned: Counter-clockwise rotation of the lettering, in degrees from -180 to 180. Mirrored lettering is measured
            after left and right have been swapped back.
        mirrored: Share of the surface on which lettering is mirrored, 0 to 1.
        spread: How far the direction of lettering varies over the surface, from 0 (the same everywhere) to 1 (no common
            direction).
        flat: Whether the surface faces up or down. If it does, `turned` is measured for a viewer at the front of the
            scene. On a surface that faces up, the top of upright lettering points away from this viewer. On a surface
            that faces down, the top points towards this viewer.
    """

    turned: float
    mirrored: float
    spread: float
    flat: bool

    @property
    def reads_mirrored(self) -> bool:
        return self.mirrored > 0.5

    @property
    def is_turned(self) -> bool:
        return abs(self.turned) > UPRIGHT_DEGREES

    @property
    def words(self) -> str:
        """The direction in words, such as `upright`, `mirrored, rotated 90 degrees counter-clockwise` or
        `in all directions`."""
        if self.spread > DIRECTION_SPREAD.value:
            return "mirrored, in all directions" if self.reads_mirrored else "in all directions"
        side = "counter-clockwise" if self.turned > 0 else "clockwise"
        turned = f"rotated {abs(self.turned):.0f} degrees {side}" if self.is_turned else ""
        if round(abs(self.turned)) == 180:
            turned = "upside down"
        return ", ".join(filter(None, ["mirrored" if self.reads_mirrored else "", turned])) or "upright"


@dataclass(frozen=True, eq=False)
class Directions:
    """The directions of lines of lettering on each triangle, as complex numbers.

    The real axis points to the right, and the imaginary axis points up.

    Attributes:
        upright: Direction relative to the scene's up, (t,); short if the triangle faces nearly up or down.
        flat: Direction relative to the viewer's right, (t,); short if the triangle faces nearly sideways.
        tilt: Sine of the angle between the normal and the scene's up, (t,); 0 if the triangle faces straight up or
            down.
        mirrored: Whether the texture is mirrored on each triangle, (t,).
    """

    upright: np.ndarray[tuple[int, ...], np.dtype[np.complex128]]
    flat: np.ndarray[tuple[int, ...], np.dtype[np.complex128]]
    tilt: Floats
    mirrored: Flags


def directions(metric: Metric, upright: Upright) -> Directions:
    """Find the directions of lettering on each triangle.

    Lines of lettering run along u. Where the texture is mirrored, the direction is reversed, as if left and right had
    been swapped back. On the surface, up is the scene's up without the component along the normal, and right is the
    cross product up x normal.
    """
    up, front = (np.array(axis) / np.linalg.norm(axis) for axis in (upright.up, upright.front))
    hand = np.cross(up, front)
    mirrored = metric.uv_area < 0.0
    baseline = _units(metric.by_u) * np.where(mirrored, -1.0, 1.0)
    normal = _units(metric.normal)
    right, ahead = cross(_spread(up, normal), normal), cross(normal, _spread(hand, normal))
    return Directions(
        upright=_complex(np.einsum("it,it->t", baseline, right), up @ baseline),
        flat=_complex(hand @ baseline, np.einsum("it,it->t", baseline, ahead)),
        tilt=length(right),
        mirrored=mirrored,
    )


def summarise(upright: complex, flat: complex, tilt: float, mirrored: float) -> Reading:
    """Make a reading from weighted means of `Directions` over the surface."""
    lies_flat = tilt < FLAT_TILT.value
    mean = flat if lies_flat else upright
    turned = float(np.degrees(np.angle(mean)))
    spread = 1.0 - min(1.0, abs(mean) / (1.0 if lies_flat else tilt))
    return Reading(turned, mirrored, spread, lies_flat)


def _units(vectors: Floats) -> Floats:
    size = length(vectors)
    return np.divide(vectors, size, out=np.zeros_like(vectors), where=(size > 0.0) & (size < np.inf))


def _spread(axis: Floats, like: Floats) -> Floats:
    return np.broadcast_to(axis[:, None], like.shape)


def _complex(real: Floats, imaginary: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.complex128]]:
    return np.asarray(real + 1j * imaginary)
