"""Make the designer's template for a material from measurements over all frames."""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from inspector import limits
from inspector.arrays import Floats
from inspector.errors import MeshqcError, Refusal
from inspector.formats.frame import Frame
from inspector.lettering.safe_lettering import SafeArea
from inspector.lettering.sequence_fit import SequenceFit, display
from inspector.lettering.texture_fit import RegionFit
from inspector.lettering.viewpoint import word_of_side
from inspector.picture.image_files import IMAGE_PIXELS
from inspector.picture.template import Arrow, Template
from inspector.sequence.run.replay import replay
from inspector.sequence.series import Series
from inspector.surface.edges import next_corner
from inspector.surface.lettering_box import Rectangle
from inspector.surface.text_direction import Upright
from inspector.surface.triangles import triangulate

_BLEED_SHARE = 1.0 / 128.0
"""Width of the bleed as a fraction of the longer side of a texture: 8 of 1024 pixels, so that one pixel of the bleed is
left after the texture has been halved three times (common practice, no source).
"""

_SIDES = ("front", "back", "left", "right")
_ARROW_SHARE = 0.5
"""Length of an arrow, as a fraction of the shorter side of the space in which it is drawn."""

_ROOM_SHARE = 0.2
"""Minimum length of the shorter side of the space for an arrow, as a fraction of the island's shorter side. In a
smaller space, the arrow would be too small to see.
"""


def template_of(fit: SequenceFit, bleed: int | None = None, size: tuple[int, int] | None = None) -> Template:
    """Make the template of `fit.material`.

    Args:
        fit: The measured sequence.
        bleed: Width of the bleed around the islands, in pixels; None for _BLEED_SHARE of the template's longer side.
        size: Width and height of the template, in pixels; None for the size that the material needs.

    Raises:
        Refusal: The template is too large to draw, or the bleed is wider than the template.
        MeshqcError: The UVs extend over so many unit squares that the texture is taken to be a repeated pattern.
    """
    material = fit.material
    name = display(material.material)
    width, height = size or material.pixels(fit.density)
    if width * height > IMAGE_PIXELS.value:
        raise Refusal(
            f"{name}: the template would have {width} x {height} pixels, which is too many to draw; use a lower "
            "--density or --fill-width"
        )
    longest = max(width, height)
    if bleed is not None and bleed > longest:
        raise Refusal(
            f"{name}: a bleed of {bleed:,} pixels is wider than the template of {width} x {height} pixels; "
            f"use --bleed {longest} or less"
        )
    if material.use is None or material.use.used is None:
        raise MeshqcError(
            f"{name}: no template can be drawn, because the UVs extend over so many unit squares that the texture is "
            "taken to be a repeated pattern"
        )
    frame: Frame = next(iter(replay(fit.series, [fit.series.reference_index or 0])))
    islands = fit.texture.islands
    ours = np.array([one == material.material for one in islands.material])
    faces = (islands.of_face >= 0) & ours[islands.of_face]
    triangles = triangulate(frame.corners, frame.positions)
    chosen = np.flatnonzero(faces[triangles.face])
    start = np.flatnonzero(faces[frame.corners.face_of_corner()])
    uvs, corners = frame.uvs[:, :2], frame.corners
    areas = [area for area in fit.areas if area.region.material == material.material]
    tiles = _tiles(material.use.box)
    return Template(
        width=width,
        height=height,
        triangles=_repeated(uvs[corners.vt[triangles.corners[chosen]]], tiles),
        face=_numbered(triangles.face[chosen], frame.faces, len(tiles)),
        sides=_repeated(uvs[np.stack([corners.vt[start], corners.vt[next_corner(corners)[start]]], axis=-1)], tiles),
        outlines=_repeated(uvs[islands.outline[ours[islands.outline_island]]], tiles),
        bleed=round(_BLEED_SHARE * longest) if bleed is None else bleed,
        safe=tuple(sides for area in areas for sides in _shown(area.rectangle, tiles)),
        arrows=tuple(_arrow(area, width / height, fit.wanted.view.upright) for area in areas),
        material=name,
        aspect=material.wanted_aspect,
        date=_date(fit.series),
    )


def _date(series: Series) -> str:
    """Return the UTC date on which the newest frame file was modified; "" if none exists any longer."""
    written = []
    for facts in series.facts:
        with suppress(OSError):
            written.append(facts.file.path.stat().st_mtime)
    return f"{datetime.fromtimestamp(max(written), UTC):%Y-%m-%d}" if written else ""


def _tiles(box: tuple[float, float, float, float]) -> Floats:
    """Return the lower left corners, (k, 2), of the unit squares that overlap a box in UV coordinates."""
    rim = limits.UV_DIFFERENCE.value
    low, high = np.floor(np.array(box[:2]) + rim), np.ceil(np.array(box[2:]) - rim)
    columns, rows = (np.arange(a, max(b, a + 1.0)) for a, b in zip(low, high, strict=True))
    return np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)


def _repeated(uvs: Floats, tiles: Floats) -> Floats:
    """Copy UVs, (n, k, 2), once for each of the t unit squares, and move each copy so that its unit square is at the
    origin.

    Returns:
        All copies, (n * t, k, 2).
    """
    return np.concatenate([uvs - tile for tile in tiles])


def _numbered(face: npt.NDArray[np.integer], faces: int, tiles: int) -> npt.NDArray[np.integer]:
    """Return the face numbers of all copies of the faces, one copy per unit square. Each copy has different numbers,
    because the copies are drawn as separate faces.
    """
    return np.concatenate([face + faces * tile for tile in range(tiles)])


def _shown(rectangle: Rectangle | None, tiles: Floats) -> list[tuple[float, float, float, float]]:
    """Copy a rectangle once per unit square, as in `_repeated`. For each copy that overlaps the unit square at the
    origin, return its left, bottom, right and top sides.
    """
    moved = [] if rectangle is None else [_moved(rectangle, u, v) for u, v in tiles.tolist()]
    return [sides for sides in moved if max(sides[0], sides[1]) < 1.0 and min(sides[2], sides[3]) > 0.0]


def _moved(rectangle: Rectangle, u: float, v: float) -> tuple[float, float, float, float]:
    return rectangle.left - u, rectangle.bottom - v, rectangle.right - u, rectangle.top - v


def _arrow(area: SafeArea, aspect: float, upright: Upright) -> Arrow:
    """Make the arrow that shows which direction in the texture is up on the surface.

    The arrow is in the space that `_room` finds.

    If upright lettering appears rotated on the surface, the arrow is rotated from the v axis by the same angle. The
    arrow is rotated in the same direction if the lettering appears mirrored, otherwise in the opposite direction.

    Args:
        area: The island and its safe rectangle.
        aspect: Width over height of the texture.
        upright: The scene's up and front directions.
    """
    left, bottom, right, top = _room(area, aspect)
    reading = area.region.reading
    angle = np.radians(reading.turned)
    length = _ARROW_SHARE * min((right - left) * aspect, top - bottom)
    across = -np.sin(angle) if reading.reads_mirrored else np.sin(angle)
    du, dv = length * across / aspect, length * np.cos(angle)
    middle = ((left + right) / 2.0 % 1.0, (bottom + top) / 2.0 % 1.0)
    place = (float(middle[0] - du / 2.0), float(middle[1] - dv / 2.0))
    return Arrow(place, (float(du), float(dv)), _label(area.region, upright))


def _label(region: RegionFit, upright: Upright) -> str:
    """Return the label of an arrow, such as `island 1 up` or `island 1 up, facing front`."""
    side = None if region.side is None else word_of_side(region.side, upright)
    up = f"island {region.island} up"
    if region.reading.flat:
        return f"{up}, towards the {'front' if side == 'below' else 'back'}"
    return f"{up}, facing {side}" if side in _SIDES else up


def _room(area: SafeArea, aspect: float) -> tuple[float, float, float, float]:
    """Find the space for an arrow on an island.

    The space is the broadest of four parts of the island's bounding box: the parts below, above, to the left and to the
    right of the safe rectangle. If all four parts are too narrow, the space is the upper left corner of the bounding
    box. Without a safe rectangle, the space is the whole bounding box.

    Args:
        area: The island and its safe rectangle.
        aspect: Width over height of the texture.

    Returns:
        Left, bottom, right and top, in UV coordinates.
    """

    def breadth(part: tuple[float, float, float, float]) -> float:
        return min((part[2] - part[0]) * aspect, part[3] - part[1])

    assert area.region.use is not None
    left, bottom, right, top = area.region.use.box
    inner = area.rectangle
    if inner is None:
        return left, bottom, right, top
    parts = [
        (left, bottom, right, inner.bottom),
        (left, inner.top, right, top),
        (left, bottom, inner.left, top),
        (inner.right, bottom, right, top),
    ]
    least = _ROOM_SHARE * breadth((left, bottom, right, top))
    roomiest = max(parts, key=breadth)
    return roomiest if breadth(roomiest) >= least else (left, top - least, left + least / aspect, top)
