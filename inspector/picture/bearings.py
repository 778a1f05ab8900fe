"""Show size and direction in a picture: a grid on the ground, and an axes symbol."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats
from inspector.picture.camera import Camera
from inspector.picture.canvas import GROUND, Colour, Mask, Picture, blank, grown
from inspector.picture.charts import ticks
from inspector.picture.labels import label_size, write_label
from inspector.picture.wires import line_pixels, wires

_SQUARES: Colour = (66, 66, 66)
_MOST_SQUARES = 6
"""Approximate maximum number of squares along the longer side of the grid. More squares would blur in a terminal."""

AXES: dict[str, Colour] = {"x": (230, 110, 96), "y": (120, 196, 110), "z": (104, 156, 240)}
"""Colour of each axis: red, green and blue for x, y and z (common practice, no source)."""

_ARM, _MARGIN = 0.09, 0.15
"""Length of an arm of the axes symbol, and distance of the symbol's centre from the picture's left and lower edges, as
fractions of the picture's height.
"""

_CLEAR = 3
"""Minimum number of pixels between the axes symbol and the edges of the picture."""

_TOWARDS = 0.3
"""An axis counts as pointing towards or away from the eye if its arm, as seen in the picture, is at most this fraction
of the arm's full length. The letter of such an axis is beside the centre of the symbol.
"""

_SMALLEST_SIGN = 120
"""A picture has an axes symbol only if its shorter side has at least this many pixels; otherwise, the symbol's letters
would be unreadable.
"""


def draw_ground(picture: Picture, camera: Camera, corners: Floats | None, up: int = 1) -> None:
    """Draw a grid into a picture, at ground level, on pixels where nothing else is drawn. The sides of the grid's
    squares are a round number of scene units long.

    Nothing is drawn if there is no box, or if the box has no horizontal extent or is too far from the origin for its
    size.

    Args:
        picture: The picture, (h, w, 3).
        camera: The picture's camera.
        corners: Corners of the box around the sequence, (8, 3), in scene units; None for no box. The ground is at the
            lowest level of the box.
        up: Index of the axis that points up: 0, 1 or 2.
    """
    if corners is None:
        return
    low, high = corners.min(axis=0), corners.max(axis=0)
    level = [axis for axis in range(3) if axis != up]
    step = float(np.diff(ticks(0.0, float((high - low)[level].max()), _MOST_SQUARES)[:2]).sum())
    if not step > 0.0:
        return
    one, two = (np.arange(np.floor(low[axis] / step), np.ceil(high[axis] / step) + 1) * step for axis in level)
    if max(len(one), len(two)) > 2 * _MOST_SQUARES:
        return  # so far from the origin that the step is lost in rounding
    ends = [*((at, two[0], at, two[-1]) for at in one), *((one[0], at, one[-1], at) for at in two)]
    positions = np.full((2 * len(ends), 3), low[up])
    positions[:, level] = np.array(ends).reshape(-1, 2)
    height, width = picture.shape[:2]
    lines = wires(camera, positions, np.arange(len(positions)).reshape(-1, 2), width, height)
    picture[lines & (picture == np.array(GROUND, np.uint8)).all(axis=2)] = _SQUARES


def arms(camera: Camera) -> list[tuple[str, Floats]]:
    """Return the name of each axis and its direction in the picture. The axis that points farthest away from the eye
    comes first.

    Args:
        camera: The camera.

    Returns:
        Names and directions, (2,): x to the right and y down. A direction has length 1 only if the axis is parallel to
        the picture plane.
    """
    right, up, forward = camera.axes
    order = sorted(range(3), key=lambda axis: -forward[axis])
    return [("xyz"[axis], np.array([right[axis], -up[axis]])) for axis in order]


@dataclass(frozen=True, eq=False)
class AxesSign:
    """A symbol that shows the axes as a camera sees them, for the lower left corner of the camera's pictures.

    Attributes:
        mask: Whether each pixel of the symbol is drawn, (h, w).
        colours: Colours of the symbol's pixels, (h, w, 3).
        left: Column of the picture at which the symbol begins.
        below: Number of rows of the picture below the symbol.
    """

    mask: Mask
    colours: Picture
    left: int = 0
    below: int = 0

    def draw(self, picture: Picture) -> None:
        """Draw the symbol into one of the camera's pictures."""
        height, width = self.mask.shape
        top = len(picture) - self.below - height
        corner = picture[top : top + height, self.left : self.left + width]
        corner[self.mask] = self.colours[self.mask]


def axes_sign(camera: Camera, width: int, height: int, up: str) -> AxesSign:
    """Make the axes symbol for the pictures of a camera.

    The symbol is never cut off: if necessary, it is moved away from the corner. It is empty for pictures that are too
    small.

    Args:
        camera: The camera.
        width: Width of the pictures, in pixels.
        height: Height of the pictures, in pixels.
        up: Name of the axis that points up, which is marked with the word "up".
    """
    if min(height, width) < _SMALLEST_SIGN:
        return AxesSign(np.zeros((0, 0), bool), blank(0, 0))
    size = max(height // 24, 11)
    reach = round(_ARM * height) + 5 * size  # the length of an arm and of the widest text beyond it
    picture = blank(2 * reach, 2 * reach)
    middle = np.array([reach, reach], float)
    for name, direction in arms(camera):
        end = middle + _ARM * height * direction
        mask = line_pixels(np.array([[middle, end]]), 2 * reach, 2 * reach)
        picture[grown(mask, height // 500)] = AXES[name]
        text = f"{name} up" if name == up else name
        wide, high = label_size(text, size)
        away = direction if np.hypot(*direction) > _TOWARDS else np.array([-0.7, 0.7])
        place = end + (0.5 * size + 0.35 * wide) * away - [wide / 2, high / 2]
        write_label(picture, text, round(float(place[0])), round(float(place[1])), size, ink=AXES[name])
    drawn = (picture != np.array(GROUND, np.uint8)).any(axis=2)
    rows, columns = np.flatnonzero(drawn.any(axis=1)), np.flatnonzero(drawn.any(axis=0))
    whole = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    aside = round(_MARGIN * height)
    left = max(aside - reach + int(columns[0]), _CLEAR)
    below = max(aside + reach - int(rows[-1]) - 1, _CLEAR)
    return AxesSign(drawn[whole], picture[whole], left, below)
