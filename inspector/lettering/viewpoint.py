"""Choose the viewpoint for a sequence: the stated viewpoint, or one that shows the lettering and the whole motion."""

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
    """The user's request for a picture.

    Attributes:
        side: Direction from the object to the camera, of any length; None for the side that the lettering faces or,
            without lettering, the front.
        distance: Distance of the camera from the centre of the motion, in scene units; None for the distance from which
            the whole motion fills the picture.
        field_of_view: Vertical field of view, in degrees.
        width: Width of the picture, in pixels.
        height: Height of the picture, in pixels.
        upright: The scene's up and front directions.
    """

    side: Direction | None = None
    distance: float | None = None
    field_of_view: float = 30.0
    width: int = 1920
    height: int = 1080
    upright: Upright = field(default_factory=Upright)

    def shot(self, series: Series, side: Floats | None = None) -> Shot:
        """Place the camera for a sequence.

        Args:
            series: The sequence.
            side: Direction that the lettering faces, (3,); None if there is no lettering.

        Raises:
            MeshqcError: No frame has coordinates that are small enough to draw.
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
"""Front axis for each up axis. With y or z up, coordinates are right-handed and x points to the right (common practice,
no source).
"""


def upright_of(up: str, front: str | None = None) -> Upright:
    """Convert the names of axes to directions.

    Args:
        up: The axis that points up: `x`, `y` or `z`.
        front: The axis that points to the front: `x`, `y`, `z`, `-x`, `-y` or `-z`; None for the usual front axis.

    Raises:
        ValueError: Both names refer to the same axis.
    """
    name = front or _FRONTS[up]
    if name.lstrip("-") == up:
        raise ValueError(f"the front axis must be perpendicular to the up axis {up}")
    x, y, z = _AXES[name.lstrip("-")]
    sign = -1.0 if name.startswith("-") else 1.0
    return Upright(_AXES[up], (sign * x, sign * y, sign * z))


def view_under(rules: Rules) -> View:
    """Return a view with the up axis and the picture size that the delivery rules state. A value that they don't state
    has its default.
    """
    up, size = rules.value("scene.up"), rules.value("captions.picture")
    view = View(upright=upright_of(up) if isinstance(up, str) else Upright())
    return replace(view, width=size[0], height=size[1]) if isinstance(size, tuple) else view


def side_of(word: str, upright: Upright) -> Direction:
    """Return the direction of a side.

    Args:
        word: The side: one of SIDES.
        upright: The scene's up and front directions.
    """
    up, front = np.array(upright.up), np.array(upright.front)
    axes = {"front": front, "right": np.cross(up, front), "above": up}
    opposites = {"back": "front", "left": "right", "below": "above"}
    axis = -axes[opposites[word]] if word in opposites else axes[word]
    x, y, z = axis.tolist()
    return x, y, z


def word_of_side(side: Floats, upright: Upright) -> str:
    """Return the side in SIDES whose direction is closest to a given direction.

    Args:
        side: The direction, of any length, (3,).
        upright: The scene's up and front directions.
    """
    return max(SIDES, key=lambda word: float(side @ np.array(side_of(word, upright))))


def up_in_picture(to_eye: Floats, upright: Upright) -> Direction:
    """Return the direction that points up in a picture: the scene's up direction, unless the object is seen from above
    or below.

    Seen from above, the back of the scene is at the top of the picture; seen from below, the front. See also
    `inspector.surface.text_direction`.

    Args:
        to_eye: Unit vector from the object to the camera, (3,).
        upright: The scene's up and front directions.
    """
    up, front = (np.array(axis) / np.linalg.norm(axis) for axis in (upright.up, upright.front))
    level = up - (up @ to_eye) * to_eye
    x, y, z = (up if np.linalg.norm(level) >= FLAT_TILT.value else np.cross(to_eye, np.cross(up, front))).tolist()
    return x, y, z
