"""Draw a test picture of grey cells with glyphs, and an arrow that points up. The picture shows how a texture would be
stretched, rotated or mirrored."""

from __future__ import annotations

import numpy as np

from inspector.picture.canvas import Mask, Picture
from inspector.picture.font import written

GLYPHS = "FGJLPQR24579"
"""Characters whose shape is different when they are mirrored or upside down."""

_LEVELS = (112, 126, 140, 154)
"""Grey values of the rows of cells, repeated every four rows."""
_STEP = 36
_LINE, _DARK, _ARROW = 60, 24, 250

_CELLS = 8
"""Number of cells along the shorter side of the picture."""


def grid_picture(width: int, height: int) -> Picture:
    """Draw the test picture, (height, width, 3). The arrow points to the top (v = 1).

    Args:
        width: Width in pixels.
        height: Height in pixels.
    """
    side = min(width, height) / _CELLS
    columns, rows = max(round(width / side), 1), max(round(height / side), 1)
    lefts, tops = np.arange(columns + 1) * width // columns, np.arange(rows + 1) * height // rows
    column = np.searchsorted(lefts, np.arange(width), "right") - 1
    row = np.searchsorted(tops, np.arange(height), "right") - 1
    grey = np.array(_LEVELS)[row % 4][:, None] + _STEP * ((row[:, None] + column) % 2)
    grey[tops[1:] - 1, :] = grey[:, lefts[1:] - 1] = _LINE
    for line in range(rows):
        for place in range(columns):
            cell = grey[tops[line] : tops[line + 1], lefts[place] : lefts[place + 1]]
            _place(cell, GLYPHS[(place + 5 * line) % len(GLYPHS)])
    _draw_arrow(grey, axis=int(lefts[columns // 2]), thickness=max(round(side / 5), 2))
    return np.repeat(grey.astype(np.uint8)[..., None], 3, axis=2)


def _place(cell: np.ndarray[tuple[int, int], np.dtype[np.int64]], glyph: str) -> None:
    """Draw a glyph in the middle of a cell, unless the cell is too small."""
    scale = min(cell.shape) // 14 or min(cell.shape) // 9
    dots: Mask = written(glyph, scale)[: 7 * scale, : 5 * scale] if scale else np.zeros((0, 0), bool)
    top, left = (cell.shape[0] - dots.shape[0]) // 2, (cell.shape[1] - dots.shape[1]) // 2
    cell[top : top + dots.shape[0], left : left + dots.shape[1]][dots] = _DARK


def _draw_arrow(grey: np.ndarray[tuple[int, int], np.dtype[np.int64]], axis: int, thickness: int) -> None:
    """Draw an upward arrow, centred on column `axis`, into a picture, (h, w). The shaft is `thickness` pixels thick."""
    height, width = grey.shape
    tip, foot = height // 10, height - height // 10
    row, column = np.ogrid[:height, :width]
    head = 2.5 * thickness
    half = np.where(row - tip < head, (row - tip) / 1.5, thickness / 2)
    way = np.abs(column + 0.5 - axis)
    inside = (row >= tip) & (row < foot)
    grey[inside & (way <= half + 1)] = _LINE
    grey[inside & (way <= half)] = _ARROW


def grid_of_aspect(aspect: float, longest: int) -> Picture:
    """Draw the test picture, (h, w, 3), with an aspect ratio that makes the cells square on the surface.

    Args:
        aspect: Aspect ratio, width over height.
        longest: Length of the longer side, in pixels. Each side has at least 64 pixels.
    """
    width, height = (longest, longest / aspect) if aspect > 1.0 else (longest * aspect, longest)
    return grid_picture(max(round(width), 64), max(round(height), 64))
