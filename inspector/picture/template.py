"""The designer's template: where the surface lies on the texture, and what may be put where."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.picture.canvas import Colour, Mask, Picture, blank, grown, stripes, write_framed
from inspector.picture.coverage import coverage
from inspector.picture.font import ADVANCE, HEIGHT
from inspector.picture.lines import line_pixels

PAPER: Colour = (238, 238, 234)
BLEED: Colour = (206, 208, 210)
ISLAND: Colour = (252, 252, 250)
SIDE: Colour = (196, 200, 204)
OUTLINE: Colour = (60, 64, 70)
SAFE: Colour = (32, 92, 140)
ARROW: Colour = (20, 20, 22)

BLEED_STRIPES = 8
"""From stripe to stripe of the bleed, in widths of a line."""

TITLE_MARGIN = 3
"""Between the title and the edges of the picture, in dots of the font."""


@dataclass(frozen=True, slots=True)
class Arrow:
    """A labelled arrow: from the place (u, v), along the direction (du, dv) in UV, as long as that."""

    place: tuple[float, float]
    direction: tuple[float, float]
    label: str


@dataclass(frozen=True, eq=False)
class Template:
    """A texture of width x height pixels as the surface uses it; all coordinates in UV, the origin lower left.

    triangles (t, 3, 2), face (t,): the surface, and the face that each triangle is a part of; sides (e, 2, 2): of the
    faces; outlines (o, 2, 2): where islands end. bleed: pixels that the texture should go on beyond the outlines, so
    that filtering never draws in what lies outside. safe: (left, bottom, right, top) of each rectangle in which
    lettering is safe. arrows: which way is up, where the front is.
    """

    width: int
    height: int
    triangles: Floats
    face: npt.NDArray[np.integer]
    sides: Floats
    outlines: Floats
    bleed: int
    safe: tuple[tuple[float, float, float, float], ...] = ()
    arrows: tuple[Arrow, ...] = ()

    def to_pixels(self, uvs: Floats) -> Floats:
        """(..., 2) -> (..., 2): x and y in pixels, y downward."""
        return np.asarray(uvs * [self.width, -self.height] + [0.0, float(self.height)])

    @property
    def line(self) -> int:
        """Pixels across a line that can be seen when the whole template is on a screen of about 1000 pixels."""
        return max(round(max(self.width, self.height) / 1000), 1)

    @property
    def text_scale(self) -> int:
        """Pixels to a dot of the font, for the same screen."""
        return max(round(max(self.width, self.height) / 700), 1)

    def safe_corners(self) -> Floats:
        """The safe rectangles in pixels, (r, 2, 2): upper left, lower right."""
        sides = np.array(self.safe).reshape(-1, 4)
        return self.to_pixels(sides[:, [0, 3, 2, 1]].reshape(-1, 2, 2))

    def title(self) -> str:
        return f"{self.width} x {self.height} pixels, bleed {self.bleed}"


def safe_label(corners: Floats, template: Template) -> tuple[str, int]:
    """What is written in a safe rectangle (2, 2), its size in pixels; and how many pixels a dot of the font has so that
    it fits in."""
    width, height = np.rint(corners[1] - corners[0]).tolist()
    room = width - 12 * template.line
    size = f"safe {width:.0f} x {height:.0f}"
    label = f"lettering {size}" if len(f"lettering {size}") * ADVANCE <= room else size
    return label, _fitting_scale(template, label, room)


def arrow_lines(arrow: Arrow, template: Template) -> Floats:
    """Shaft and the two strokes of the head in pixels, (3, 2, 2): from, to."""
    start = template.to_pixels(np.array(arrow.place))
    end = template.to_pixels(np.add(arrow.place, arrow.direction))
    back = 0.25 * (start - end)
    strokes = [back @ np.array([[c, s], [-s, c]]) for c, s in ((0.8, 0.6), (0.8, -0.6))]
    return np.array([[start, end], *([end, end + stroke] for stroke in strokes)])


def draw_template(template: Template) -> Picture:
    """The picture (height, width, 3): to be laid under the designer's work."""
    width, height = template.width, template.height
    picture = blank(width, height, PAPER)
    pixels = template.to_pixels(template.triangles)
    surface = coverage(pixels, template.face, width, height) > 0
    around = grown(surface, template.bleed) & ~surface
    picture[around] = BLEED
    picture[around & stripes(height, width, period=BLEED_STRIPES * template.line, thickness=template.line)] = PAPER
    picture[surface] = ISLAND
    _draw_lines(picture, template.to_pixels(template.sides), template.line // 2, SIDE)
    _draw_lines(picture, template.to_pixels(template.outlines), template.line, OUTLINE)
    _draw_safe(picture, template)
    for arrow in template.arrows:
        strokes = arrow_lines(arrow, template)
        _draw_lines(picture, strokes, 2 * template.line, ARROW)
        left, top = np.rint(strokes[0, 0] + 4 * template.line).astype(int).tolist()
        _label(picture, arrow.label, left, top, template.text_scale)
    _draw_title(picture, template, surface)
    return picture


def _label(picture: Picture, text: str, left: int, top: int, scale: int) -> None:
    write_framed(picture, text, left, top, scale, ink=ARROW, plate=PAPER)


def _draw_title(picture: Picture, template: Template, surface: Mask) -> None:
    """In the corner where it hides least of the surface, as large as it goes without hiding any."""
    height, width = surface.shape
    text = template.title()
    places: list[tuple[int, int, int, int]] = []
    for scale in range(_fitting_scale(template, text, width - 8), 0, -1):
        margin = max(TITLE_MARGIN * scale, 4)
        tall, wide = HEIGHT * scale + 2 * margin, len(text) * ADVANCE * scale + 2 * margin
        for top in (0, max(height - tall, 0)):
            for left in (0, max(width - wide, 0)):
                hidden = int(surface[top : top + tall, left : left + wide].sum())
                places.append((hidden, -scale, left + margin, top + margin))
    _, smallness, left, top = min(places)
    _label(picture, text, left, top, -smallness)


def _fitting_scale(template: Template, text: str, room: float) -> int:
    """Pixels to a dot so that the text fits into `room` pixels, if one will do."""
    return max(min(template.text_scale, int(room / (len(text) * ADVANCE))), 1)


def _draw_safe(picture: Picture, template: Template) -> None:
    for corners in template.safe_corners():
        (left, top), (right, bottom) = corners
        ring = np.array([[left, top], [right, top], [right, bottom], [left, bottom], [left, top]])
        _draw_lines(picture, np.stack([ring[:-1], ring[1:]], axis=1), 2 * template.line, SAFE)
        label, scale = safe_label(corners, template)
        middle = (left + right - len(label) * ADVANCE * scale) / 2
        _label(picture, label, round(middle), round(bottom) - HEIGHT * scale - 4 * template.line, scale)


def _draw_lines(picture: Picture, ends: Floats, thickness: int, colour: Colour) -> None:
    mask = line_pixels(ends, picture.shape[1], picture.shape[0])
    picture[grown(mask, thickness // 2)] = colour
