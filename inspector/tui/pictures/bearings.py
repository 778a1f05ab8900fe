"""Show direction and size in a picture: an axes symbol and a scale bar."""

from __future__ import annotations

import numpy as np
from rich.style import Style
from textual.strip import Strip

from inspector.arrays import Floats
from inspector.names import amount
from inspector.picture.bearings import AXES, arms
from inspector.picture.camera import Camera
from inspector.picture.canvas import Colour, Mask, Picture
from inspector.picture.wires import line_pixels
from inspector.tui.pictures.cells import Cells, overlaid
from inspector.tui.styles import PLAIN

_ARM = 2.0  # maximum length of an axis in rows
_CROSS = (5, 3)  # columns and rows from the lower left corner to the centre of the axes symbol

_BAR = 14  # maximum length of the bar in columns
_LEAST = (44, 12)
"""Minimum number of columns, and minimum number of rows, of a picture with an axes symbol and a scale bar."""


def has_room(columns: int, rows: int) -> bool:
    """Return whether a picture has space for the axes symbol and the scale bar."""
    return columns >= _LEAST[0] and rows >= _LEAST[1]


def draw_axes(picture: Picture, camera: Camera, cells: Cells) -> None:
    """Draw the axes, as the camera sees them, into the lower left corner of a picture, (h, w, 3), in place."""
    height, width = picture.shape[:2]
    for name, way in arms(camera):
        middle = np.array([_CROSS[0] * cells.across, height - _CROSS[1] * cells.down + cells.down / 2])
        picture[_line(middle, middle + way * _ARM * cells.down, width, height)] = AXES[name]


def with_scale(strips: list[Strip], camera: Camera, cells: Cells, factor: float = 1.0) -> list[Strip]:
    """Return the lines of a picture with the letters of the axes, and with a scale bar in the lower right corner.

    `factor` is the number of scene units per unit of the camera. It is 1 unless the frame is drawn larger or smaller
    than its true size.
    """
    rows, columns = len(strips), strips[0].cell_length
    lines = list(strips)
    for name, way in arms(camera):
        column = _CROSS[0] + round(float(way[0]) * _ARM * cells.down / cells.across * 1.3)
        row = rows - _CROSS[1] + round(float(way[1]) * _ARM * 1.3)
        if 0 <= row < rows:
            lines[row] = overlaid(lines[row], max(column, 0), name, ink_on(lines[row], AXES[name]))
    across = units_per_pixel(camera, rows * cells.down) * cells.across * factor
    length = _round_below(_BAR * across)
    if length > 0.0:
        wide = max(2, round(length / across))
        left, line, right = "|-|" if cells.name == "letters" else "├─┤"
        words = f"{left}{line * (wide - 2)}{right} {amount(length, 'unit', 'g')}"
        lines[-1] = overlaid(lines[-1], columns - len(words) - 1, words, ink_on(lines[-1], (208, 208, 208)))
    return lines


def units_per_pixel(camera: Camera, height: int) -> float:
    """Return the number of scene units per pixel at the camera's target, for a picture `height` pixels high."""
    high = camera.parallel_height
    if high is None:
        high = 2.0 * camera.distance * float(np.tan(np.radians(camera.field_of_view) / 2.0))
    return high / height


def _line(start: Floats, end: Floats, width: int, height: int) -> Mask:
    return line_pixels(np.array([[start, end]]), width, height)


def _round_below(most: float) -> float:
    """Round a length down to 1, 2 or 5 times a power of ten. Return 0 for an extremely small or large length."""
    if not 1e-100 < most < 1e100:
        return 0.0
    power = 10.0 ** np.floor(np.log10(most))
    return float(max(factor * power for factor in (1.0, 2.0, 5.0) if factor * power <= most * (1.0 + 1e-9)))


def ink_on(line: Strip, colour: Colour) -> Style:
    """Return a style for letters in a colour, or a plain style if the line has no background colours."""
    coloured = any(piece.style is not None and piece.style.bgcolor is not None for piece in line)
    return Style(color="rgb({},{},{})".format(*colour)) if coloured else PLAIN
