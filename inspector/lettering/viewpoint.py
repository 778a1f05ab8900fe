"""The viewpoint for a sequence: as stated or, without a statement, chosen so that the picture shows the side that
matters and the whole motion."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from inspector.arrays import Floats
from inspector.lettering.legibility import Shot
from inspector.lettering.texel_density import motion_box
from inspector.picture.camera import frame_box
from inspector.rules.model import Rules
from inspector.sequence.discovery.settings import SIDES
from inspector.sequence.series import Series
from inspector.surface.text_direction import FLAT_TILT, Direction, Upright


@dataclass(frozen=True, slots=True)
class View:
    """The user's statements about the picture.

    Attributes:
        side: Direction from the object to the eye, of any length; None for the side that the lettering faces, or the
            front.
        distance: Distance from the centre of the motion, scene units; None for the shortest distance from which all of
            it is visible.
        field_of_view: Vertical field of view, degrees.
        width: Width of the picture, pixels.
        height: Height of the picture, pixels.
        upright: Up and front in the scene.
    """

    side: Direction | None = None
    distance: float | None = None
    field_of_view: float = 30.0
    width: int = 1920
    height: int = 1080
    upright: Upright = field(default_factory=Upright)

    def shot(self, series: Series, side: Floats | None = None) -> Shot:
        """Make the picture of a sequence.

        Args:
            series: The sequence.
            side: (3,), direction that the lettering faces; None without lettering.
        """
        default = np.array(self.upright.front) if side is None else side
        to_eye = default if self.side is None else np.array(self.side)
        to_eye = to_eye / np.linalg.norm(to_eye)
        box = motion_box(series)
        camera = frame_box(
            box,
            -to_eye,
            up=up_in_picture(to_eye, self.upright),
            aspect=self.width / self.height,
            field_of_view=self.field_of_view,
        )
        if self.distance is not None:
            middle = box.mean(axis=0)
            near = camera.near * self.distance / camera.distance
            camera = replace(camera, target=middle, position=middle + self.distance * to_eye, near=near)
        return Shot(camera, self.width, self.height)


_AXES: dict[str, Direction] = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
_FRONTS = {"x": "z", "y": "z", "z": "-y"}
"""Up axis -> axis that points to the front: for y and z right-handed, with x to the right (common practice, no
source)."""


def upright_of(up: str, front: str | None = None) -> Upright:
    """Make up and front from the names of axes.

    Args:
        up: `x`, `y` or `z`.
        front: The same, or `-x`, `-y`, `-z`; None for the usual front axis.

    Raises:
        ValueError: Both are the same axis.
    """
    name = front or _FRONTS[up]
    if name.lstrip("-") == up:
        raise ValueError(f"the front axis must differ from the up axis {up}")
    x, y, z = _AXES[name.lstrip("-")]
    sign = -1.0 if name.startswith("-") else 1.0
    return Upright(_AXES[up], (sign * x, sign * y, sign * z))


def view_under(rules: Rules) -> View:
    """The picture that delivery rules state, with their up axis."""
    up, size = rules.value("scene.up"), rules.value("captions.picture")
    view = View(upright=upright_of(up) if isinstance(up, str) else Upright())
    return replace(view, width=size[0], height=size[1]) if isinstance(size, tuple) else view


def side_of(word: str, upright: Upright) -> Direction:
    """The direction (3,) that a word names.

    Args:
        word: One of SIDES.
        upright: Up and front in the scene.
    """
    up, front = np.array(upright.up), np.array(upright.front)
    axes = {"front": front, "right": np.cross(up, front), "above": up}
    opposites = {"back": "front", "left": "right", "below": "above"}
    axis = -axes[opposites[word]] if word in opposites else axes[word]
    x, y, z = axis.tolist()
    return x, y, z


def word_of_side(side: Floats, upright: Upright) -> str:
    """The word of SIDES that comes closest to a direction.

    Args:
        side: (3,), of any length.
        upright: Up and front in the scene.
    """
    return max(SIDES, key=lambda word: float(side @ np.array(side_of(word, upright))))


def up_in_picture(to_eye: Floats, upright: Upright) -> Direction:
    """The direction that points up in a picture.

    It is the scene's up. If the viewer looks along it, it is the direction away from someone who stands in front (seen
    from below: towards them); see `inspector.surface.text_direction`.

    Args:
        to_eye: (3,), unit vector from the object to the eye.
        upright: Up and front in the scene.
    """
    up, front = (np.array(axis) / np.linalg.norm(axis) for axis in (upright.up, upright.front))
    level = up - (up @ to_eye) * to_eye
    x, y, z = (up if np.linalg.norm(level) >= FLAT_TILT.value else np.cross(to_eye, np.cross(up, front))).tolist()
    return x, y, z
