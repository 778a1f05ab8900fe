"""The designer's template: the surface on the texture, and the boxes for lettering."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.names import safe
from inspector.picture.canvas import Colour, Mask, Picture, blank, grown, stripes
from inspector.picture.face_counts import coverage
from inspector.picture.labels import label_mask, label_size
from inspector.picture.wires import line_pixels

PAPER: Colour = (238, 238, 234)
BLEED: Colour = (206, 208, 210)
ISLAND: Colour = (252, 252, 250)
SIDE: Colour = (196, 200, 204)
OUTLINE: Colour = (60, 64, 70)
SAFE: Colour = (32, 92, 140)
MARGIN: Colour = (120, 164, 200)
MARK: Colour = (150, 40, 60)
ARROW: Colour = (20, 20, 22)

LAYERS = ("bleed", "surface", "edges", "outlines", "safe", "margin", "marks", "arrows", "title")
"""Names of the layers, from bottom to top."""

BLEED_STRIPES = 8
"""Distance between stripes in the bleed, as a multiple of the line width."""

SAFE_MARGIN = 0.05
"""Width of the margin inside a safe lettering box, as a fraction of the box's shorter side (common practice, no
source)."""

_MARK_LENGTH = 0.02
"""Length of a corner mark or centre mark, as a fraction of the texture's longer side."""

Layer = npt.NDArray[np.uint8]
"""A layer of the template, (h, w, 4): red, green, blue and opacity."""


@dataclass(frozen=True, slots=True)
class Arrow:
    """A labelled arrow.

    Attributes:
        place: Start of the arrow, (u, v).
        direction: Vector from the start to the tip, (du, dv).
        label: Text at the start.
    """

    place: tuple[float, float]
    direction: tuple[float, float]
    label: str


@dataclass(frozen=True, eq=False)
class Template:
    """A template for the designer of a texture. Coordinates are UVs, with the origin at the lower left.

    Attributes:
        width: Width of the texture, in pixels.
        height: Height of the texture, in pixels.
        triangles: Triangles of the surface, (t, 3, 2).
        face: Index of the face that each triangle is part of, (t,).
        sides: Both ends of the sides of the faces, (e, 2, 2).
        outlines: Both ends of the sides on the boundaries of the islands, (o, 2, 2).
        bleed: Number of pixels by which the texture should extend beyond the outlines, because of filtering.
        safe: Left, bottom, right and top of each box in which lettering is safe.
        arrows: Arrows that show which direction is up, and where the front is.
        material: Displayed name of the material that uses the texture; empty if it isn't known.
        aspect: Aspect ratio that the surface needs, width over height; None if it isn't known.
        date: Date of the geometry, in ISO 8601 format; empty if it isn't known.
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
    material: str = ""
    aspect: float | None = None
    date: str = ""

    def to_pixels(self, uvs: Floats) -> Floats:
        """Convert UVs, (..., 2), to pixels, (..., 2), with y downward."""
        return np.asarray(uvs * [self.width, -self.height] + [0.0, float(self.height)])

    @property
    def line(self) -> int:
        """Width of lines, in pixels. Lines remain visible if the template is scaled down so that its longer side is
        about 1000 pixels long."""
        return max(round(max(self.width, self.height) / 1000), 1)

    @property
    def letters(self) -> int:
        """Em size of labels, in pixels; at least 12. Unless the template is a narrow strip, labels remain readable if
        the template is scaled down so that its longer side is about 1000 pixels long."""
        return max(min(round(max(self.width, self.height) / 70), self.width, self.height), 12)

    def safe_corners(self) -> Floats:
        """Return the upper left and the lower right corner of each safe lettering box, (r, 2, 2), in pixels."""
        sides = np.array(self.safe).reshape(-1, 4)
        return self.to_pixels(sides[:, [0, 3, 2, 1]].reshape(-1, 2, 2))

    def margins(self) -> Floats:
        """Return the upper left and the lower right corner of each safe lettering box without its margin, (r, 2, 2), in
        pixels."""
        corners = self.safe_corners()
        inset = SAFE_MARGIN * np.ptp(corners, axis=1).min(axis=1)
        return np.asarray(corners + inset[:, None, None] * np.array([[1.0, 1.0], [-1.0, -1.0]]))

    def marks(self) -> Floats:
        """Return both ends of the lines that mark the corners, sides and centre of the texture and the centres of the
        safe lettering boxes, (m, 2, 2), in pixels."""
        width, height = float(self.width), float(self.height)
        long = _MARK_LENGTH * max(width, height)
        lines = []
        for x, inward in ((0.0, long), (width, -long)):
            lines += [[(x, height / 2), (x + inward, height / 2)]]
            for y, down in ((0.0, long), (height, -long)):
                lines += [[(x, y), (x + inward, y)], [(x, y), (x, y + down)]]
        lines += [[(width / 2, y), (width / 2, y + down)] for y, down in ((0.0, long), (height, -long))]
        centres = [(width / 2, height / 2), *self.safe_corners().mean(axis=1).tolist()]
        for x, y in centres:
            lines += [[(x - long / 2, y), (x + long / 2, y)], [(x, y - long / 2), (x, y + long / 2)]]
        return np.array(lines)

    def title(self) -> str:
        """Return the title in one line: material, size, aspect ratio, bleed and date of the geometry."""
        parts = [self.material, f"{self.width} x {self.height} px"]
        parts += [] if self.aspect is None else [f"aspect {self.aspect:.4g} to 1"]
        parts += [f"bleed {self.bleed} px", f"geometry of {self.date}" if self.date else ""]
        return safe(", ".join(part for part in parts if part))


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text on the texture.

    Attributes:
        text: The text.
        size: Em size, in pixels.
        left: Left edge of the line, in pixels.
        top: Top edge of the line, in pixels.
    """

    text: str
    size: int
    left: int
    top: int

    @property
    def box(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """Upper left and lower right corners of the line, in pixels."""
        wide, high = label_size(self.text, self.size)
        return (self.left, self.top), (self.left + wide, self.top + high)


def safe_label(corners: Floats, template: Template) -> Label:
    """Make the label of a safe lettering box, (2, 2), in pixels. If possible, the label fits in the box."""
    width, height = np.rint(corners[1] - corners[0]).tolist()
    room = width - 12 * template.line
    box = f"{width:.0f} x {height:.0f} px"
    text = f"safe for lettering: {box}"
    if label_size(text, template.letters)[0] > room:
        text = f"safe: {box}"
    size = fitting_size(text, room, template.letters)
    wide, high = label_size(text, size)
    inset = round(SAFE_MARGIN * float(np.ptp(corners, axis=0).min())) + 2 * template.line
    (left, _), (right, bottom) = corners.tolist()
    return Label(text, size, round((left + right - wide) / 2), round(bottom) - high - inset)


def fitting_size(text: str, room: float, most: int) -> int:
    """Choose the largest em size, up to `most` pixels, at which a line is at most `room` pixels wide; at least 6
    pixels, even if the line is then too wide."""
    wide = label_size(text, most)[0]
    return max(min(most, int(most * room / max(wide, 1))), 6)


def title_label(template: Template) -> Label:
    """Make the label of the title, in the corner where it covers the fewest arrows and labels. If several corners are
    equal in this respect, the corner where the label covers the fewest triangles is used."""
    size = fitting_size(template.title(), 0.9 * template.width, template.letters)
    wide, high = label_size(template.title(), size)
    margin = round(_MARK_LENGTH * max(template.width, template.height)) + size // 2
    pixels = template.to_pixels(template.triangles)
    low, far = pixels.min(axis=1), pixels.max(axis=1)
    taken = _taken(template)
    places: list[tuple[int, int, int, int]] = []
    for top in (margin, max(template.height - high - margin, 0)):
        for left in (margin, max(template.width - wide - margin, 0)):
            covered = (taken[:, 0] < [left + wide, top + high]) & (taken[:, 1] > [left, top])
            hidden = (low < [left + wide, top + high]) & (far > [left, top])
            places.append((int(covered.all(axis=1).sum()), int(hidden.all(axis=1).sum()), left, top))
    _, _, left, top = min(places)
    return Label(template.title(), size, left, top)


def _taken(template: Template) -> Floats:
    """Return the upper left and the lower right corner of the box around each arrow and each label, (n, 2, 2), in
    pixels."""
    boxes = [safe_label(corners, template).box for corners in template.safe_corners()]
    boxes += [arrow_label(arrow, template).box for arrow in template.arrows]
    lines = [arrow_lines(arrow, template).reshape(-1, 2) for arrow in template.arrows]
    shafts = [[one.min(axis=0), one.max(axis=0)] for one in lines]
    return np.array([*boxes, *shafts], float).reshape(-1, 2, 2)


def arrow_label(arrow: Arrow, template: Template) -> Label:
    """Make the label of an arrow. If it fits, the label is completely inside the texture."""
    beside = np.rint(template.to_pixels(np.array(arrow.place)) + 4 * template.line).astype(int)
    wide, high = label_size(arrow.label, template.letters)
    room = np.array([template.width - wide, template.height - high]) - template.letters // 4
    left, top = np.maximum(np.minimum(beside, room), 0).tolist()
    return Label(arrow.label, template.letters, left, top)


def arrow_lines(arrow: Arrow, template: Template) -> Floats:
    """Return both ends of each line of an arrow's shaft and head, (3, 2, 2), in pixels."""
    start = template.to_pixels(np.array(arrow.place))
    end = template.to_pixels(np.add(arrow.place, arrow.direction))
    back = 0.25 * (start - end)
    strokes = [back @ np.array([[c, s], [-s, c]]) for c, s in ((0.8, 0.6), (0.8, -0.6))]
    return np.array([[start, end], *([end, end + stroke] for stroke in strokes)])


def draw_template(template: Template) -> Picture:
    """Draw all layers on a background in the colour PAPER. Return the picture, (height, width, 3)."""
    picture = blank(template.width, template.height, PAPER)
    for _, layer in draw_layers(template):
        opacity = layer[..., 3]
        np.copyto(picture, layer[..., :3], where=(opacity == 255)[..., None])
        mixed = (opacity > 0) & (opacity < 255)  # the edges of letters, and their plates
        share = layer[mixed][:, 3:].astype(np.uint16)
        picture[mixed] = (picture[mixed] * (255 - share) + layer[mixed][:, :3] * share + 127) // 255
    return picture


def draw_layers(template: Template) -> Iterator[tuple[str, Layer]]:
    """Draw each layer in LAYERS on a transparent background.

    Yields:
        The name and the pixels of each layer, one layer at a time.
    """
    line, width, height = template.line, template.width, template.height
    surface = coverage(template.to_pixels(template.triangles), template.face, width, height) > 0
    around = grown(surface, template.bleed) & ~surface
    hatched = around & stripes(height, width, period=BLEED_STRIPES * line, thickness=line)
    layer = _layer(template, around, BLEED)
    layer[hatched] = (*PAPER, 255)
    yield "bleed", layer
    yield "surface", _layer(template, surface, ISLAND)
    yield "edges", _lines(template, template.to_pixels(template.sides), max(line // 2, 1), SIDE)
    yield "outlines", _lines(template, template.to_pixels(template.outlines), line, OUTLINE)
    layer = _lines(template, rings(template.safe_corners()), 2 * line, SAFE)
    for corners in template.safe_corners():
        _write(layer, safe_label(corners, template), SAFE)
    yield "safe", layer
    yield "margin", _lines(template, rings(template.margins()), line, MARGIN)
    yield "marks", _lines(template, template.marks(), line, MARK)
    layer = _layer(template, np.zeros((height, width), bool), ARROW)
    for arrow in template.arrows:
        _draw(layer, arrow_lines(arrow, template), 2 * line, ARROW)
        _write(layer, arrow_label(arrow, template), ARROW)
    yield "arrows", layer
    layer = _layer(template, np.zeros((height, width), bool), ARROW)
    _write(layer, title_label(template), ARROW)
    yield "title", layer


def rings(corners: Floats) -> Floats:
    """Return both ends of each side of the rectangles, (4 r, 2, 2).

    Args:
        corners: Upper left and lower right corners of each rectangle, (r, 2, 2).
    """
    (left, top), (right, bottom) = corners[:, 0].T, corners[:, 1].T
    ring = np.stack([left, top, right, top, right, bottom, left, bottom, left, top], axis=1).reshape(-1, 5, 2)
    return np.stack([ring[:, :-1], ring[:, 1:]], axis=2).reshape(-1, 2, 2)


def _layer(template: Template, mask: Mask, colour: Colour) -> Layer:
    pixel = np.array((*colour, 0), np.uint8).view(np.uint32)[0]  # whole pixels are written in a quarter of the time
    layer = np.full((template.height, template.width), pixel).view(np.uint8).reshape(*mask.shape, 4)
    layer[..., 3] = np.where(mask, np.uint8(255), np.uint8(0))
    return layer


def _lines(template: Template, ends: Floats, thickness: int, colour: Colour) -> Layer:
    layer = _layer(template, np.zeros((template.height, template.width), bool), colour)
    _draw(layer, ends, thickness, colour)
    return layer


def _draw(layer: Layer, ends: Floats, thickness: int, colour: Colour) -> None:
    height, width = layer.shape[:2]
    ends = np.minimum(ends, np.array([width, height]) - 0.5)  # a line exactly on the border is drawn inside it
    layer[grown(line_pixels(ends, width, height), thickness // 2)] = (*colour, 255)


def _write(layer: Layer, label: Label, colour: Colour) -> None:
    """Write a label into a layer, on a filled rectangle in the paper's colour. The label is cut off at the edges of the
    layer."""
    letters, left, top = label_mask(label.text, label.size), label.left, label.top
    margin = label.size // 4
    plate = np.pad(np.zeros_like(letters), margin)
    high, wide = layer.shape[:2]
    for whole, column, row, ink in ((plate + 0.85, left - margin, top - margin, PAPER), (letters, left, top, colour)):
        mask = whole[max(-row, 0) : max(high - row, 0), max(-column, 0) : max(wide - column, 0), None]
        place = layer[max(row, 0) :, max(column, 0) :][: mask.shape[0], : mask.shape[1]]
        below = place[..., 3:] / 255.0 * (1.0 - mask)
        opacity = mask + below
        mixed = mask * np.array(ink) + below * place[..., :3]
        place[..., :3] = np.rint(np.divide(mixed, opacity, out=mixed.copy(), where=opacity > 0.0))
        place[..., 3:] = np.rint(255.0 * opacity)
