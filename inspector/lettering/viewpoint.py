"""Where a sequence is looked at from: as stated, or so that the whole motion is framed from the side that matters."""

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
    """What is stated about the picture.

    side: from the object to the eye, of any length; None: the side that the lettering looks to, or the front.
    distance: from the middle of the motion, scene units; None: the least from which all of it is seen. field_of_view:
    vertical, degrees. width, height: of the picture, pixels.
    """

    side: Direction | None = None
    distance: float | None = None
    field_of_view: float = 30.0
    width: int = 1920
    height: int = 1080
    upright: Upright = field(default_factory=Upright)

    def shot(self, series: Series, side: Floats | None = None) -> Shot:
        """The picture of a sequence; side (3,): the one that the lettering looks to, if there is any."""
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
    """Which axes point up and to the front.

    Args:
        up: `x`, `y` or `z`.
        front: The same, or `-x`, `-y`, `-z`; None for the usual one.

    Raises:
        ValueError: both are one axis.
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
    """The direction that a word of SIDES means where `upright` holds."""
    up, front = np.array(upright.up), np.array(upright.front)
    axes = {"front": front, "right": np.cross(up, front), "above": up}
    opposites = {"back": "front", "left": "right", "below": "above"}
    axis = -axes[opposites[word]] if word in opposites else axes[word]
    x, y, z = axis.tolist()
    return x, y, z


def word_of_side(side: Floats, upright: Upright) -> str:
    """The word of SIDES that a direction comes nearest to."""
    return max(SIDES, key=lambda word: float(side @ np.array(side_of(word, upright))))


def up_in_picture(to_eye: Floats, upright: Upright) -> Direction:
    """What points up in a picture taken from a side: the scene's up, or, where one looks along it, what points away
    from somebody who stands in front (seen from below: towards them); see `inspector.surface.text_direction`."""
    up, front = (np.array(axis) / np.linalg.norm(axis) for axis in (upright.up, upright.front))
    level = up - (up @ to_eye) * to_eye
    x, y, z = (up if np.linalg.norm(level) >= FLAT_TILT.value else np.cross(to_eye, np.cross(up, front))).tolist()
    return x, y, z
