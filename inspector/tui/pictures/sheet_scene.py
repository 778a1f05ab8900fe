"""A texture as the surface uses it: islands, lettering boxes, and arrows that show which direction is up."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from inspector.picture.canvas import INK, QUIET, Colour, Picture, blank
from inspector.picture.face_counts import coverage
from inspector.picture.marks import MARK
from inspector.picture.template import Template, arrow_lines
from inspector.picture.texture import sampled
from inspector.picture.wires import line_pixels
from inspector.tui.pictures.bearings import ink_on
from inspector.tui.pictures.cells import Cells, overlaid
from inspector.tui.pictures.painter import Painted

_SHEET: Colour = (58, 60, 64)
_ISLAND: Colour = (96, 112, 124)
_OVER_TEXTURE = 0.4
_ARROW: Colour = (255, 255, 255)


@dataclass(frozen=True, eq=False)
class Sheet:
    """The content of a drawing of a texture.

    Attributes:
        template: The surface on the texture, in UV coordinates.
        texture: The existing texture, (h, w, 3); None if there is none.
        size: Width and height of the existing texture, or of the texture that is needed, in pixels.
    """

    template: Template
    texture: Picture | None
    size: tuple[int, int]


@dataclass(frozen=True, eq=False)
class SheetScene:
    """A request for a picture of a sheet.

    Attributes:
        sheet: The content of the drawing.
        cells: The kind of cells that show the picture.
        columns: Width on the screen, in cells.
        rows: Height on the screen, in cells.
        moving: Always False.
    """

    sheet: Sheet
    cells: Cells
    columns: int
    rows: int
    moving: bool = False

    def paint(self, coarseness: int) -> Painted:  # noqa: ARG002 - it never moves
        """Draw the sheet as large as the area allows, keeping its aspect ratio."""
        width, height = self.cells.pixels(self.columns, self.rows)
        picture = blank(width, height)
        wide, high = self.sheet.size
        scale = min((width - 2) / wide, (height - 2) / high)
        wide, high = max(1, round(wide * scale)), max(1, round(high * scale))
        drawn = replace(self.sheet.template, width=wide, height=high)
        left, top = (width - wide) // 2, (height - high) // 2
        picture[top : top + high, left : left + wide] = self._draw(drawn)
        strips = self.cells.strips(picture)
        for arrow in drawn.arrows:
            x, y = drawn.to_pixels(np.array(arrow.place)).tolist()
            row, column = int(top + y) // self.cells.down, int(left + x) // self.cells.across + 1
            if 0 <= row < self.rows and 0 <= column < self.columns:
                label = arrow.label.removeprefix("island ").split(",")[0]
                strips[row] = overlaid(strips[row], column, label, ink_on(strips[row], _ARROW))
        return Painted(self, picture, self.cells.over(picture, strips))

    def _draw(self, drawn: Template) -> Picture:
        wide, high = drawn.width, drawn.height
        picture = blank(wide, high, _SHEET)
        if self.sheet.texture is not None:
            u, v = (np.arange(wide) + 0.5) / wide, 1.0 - (np.arange(high) + 0.5) / high
            picture[:] = sampled(self.sheet.texture, np.stack(np.meshgrid(u, v), axis=-1)) // 3
        surface = coverage(drawn.to_pixels(drawn.triangles), drawn.face, wide, high) > 0
        share = 1.0 if self.sheet.texture is None else _OVER_TEXTURE
        picture[surface] = (picture[surface] * (1.0 - share) + np.array(_ISLAND) * share).astype(np.uint8)
        boxes = drawn.safe_corners()
        rings = [np.array([[a, b], [c, b], [c, d], [a, d], [a, b]]) for (a, b), (c, d) in boxes.tolist()]
        frame = np.array([[0, 0], [wide - 1, 0], [wide - 1, high - 1], [0, high - 1], [0, 0]], float)
        for lines, colour in (
            (_sides(frame), QUIET),
            (drawn.to_pixels(drawn.outlines), INK),
            *((_sides(ring), MARK) for ring in rings),
            *((arrow_lines(arrow, drawn), _ARROW) for arrow in drawn.arrows),
        ):
            picture[line_pixels(lines, wide, high)] = colour
        return picture


def _sides(ring: np.ndarray) -> np.ndarray:
    """Split a polyline, (n + 1, 2), into its segments, (n, 2, 2)."""
    return np.stack([ring[:-1], ring[1:]], axis=1)
