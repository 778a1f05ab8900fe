"""Make a material's template for the designer from the measurements over all frames."""

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
"""Width of the bleed over the longer side of a texture: 8 pixels for 1024. One pixel of bleed is left after the texture
has been halved three times (common practice, no source).
"""

_LOOKS = {"front": "to the front", "back": "to the back", "left": "to the left", "right": "to the right"}
_ARROW_SHARE = 0.5
"""Length of an arrow over the shorter side of the space in which it is drawn."""

_ROOM_SHARE = 0.2
"""Minimum shorter side of the space for an arrow, over the shorter side of the island. In less space, the arrow would
be too small to see."""


def template_of(fit: SequenceFit, bleed: int | None = None, size: tuple[int, int] | None = None) -> Template:
    """Make the template of `fit.material`.

    Args:
        fit: The measured sequence.
        bleed: Width of the bleed around the islands, pixels; None for _BLEED_SHARE of the longer side.
        size: Width and height, pixels; None for the size that the material needs.

    Raises:
        Refusal: The template is too large to draw, or the bleed is wider than it.
        MeshqcError: The texture is a repeated pattern.
    """
    material = fit.material
    name = display(material.material)
    width, height = size or material.pixels(fit.density)
    if width * height > IMAGE_PIXELS.value:
        raise Refusal(
            f"{name}: the template would have {width} x {height} pixels, too many to draw; state a lower --density or "
            "--fill-width"
        )
    longest = max(width, height)
    if bleed is not None and bleed > longest:
        raise Refusal(
            f"{name}: a bleed of {bleed:,} pixels is wider than the template of {width} x {height} pixels; "
            f"state at most --bleed {longest}"
        )
    if material.use is None or material.use.used is None:
        raise MeshqcError(
            f"{name}: its UVs extend over so many unit squares that its texture is taken to be a repeated pattern, for "
            "which no template can be drawn"
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
    """The day on which the newest frame was modified, in UTC; empty if no frame exists any longer."""
    written = []
    for facts in series.facts:
        with suppress(OSError):
            written.append(facts.file.path.stat().st_mtime)
    return f"{datetime.fromtimestamp(max(written), UTC):%Y-%m-%d}" if written else ""


def _tiles(box: tuple[float, float, float, float]) -> Floats:
    """The lower left corners, (k, 2), of the unit squares that contain parts of a box in UV."""
    rim = limits.UV_DIFFERENCE.value
    low, high = np.floor(np.array(box[:2]) + rim), np.ceil(np.array(box[2:]) - rim)
    columns, rows = (np.arange(a, max(b, a + 1.0)) for a, b in zip(low, high, strict=True))
    return np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)


def _repeated(uvs: Floats, tiles: Floats) -> Floats:
    """Move UVs, (n, k, 2), from each unit square into the first, and join the results, (n * tiles, k, 2)."""
    return np.concatenate([uvs - tile for tile in tiles])


def _numbered(face: npt.NDArray[np.integer], faces: int, tiles: int) -> npt.NDArray[np.integer]:
    """Repeat face numbers once for each unit square. Each repetition has different numbers, so that all faces show."""
    return np.concatenate([face + faces * tile for tile in range(tiles)])


def _shown(rectangle: Rectangle | None, tiles: Floats) -> list[tuple[float, float, float, float]]:
    """Move a rectangle from each unit square into the first, and keep the positions at which it overlaps the first.

    Returns:
        Left, bottom, right and top at each position.
    """
    moved = [] if rectangle is None else [_moved(rectangle, u, v) for u, v in tiles.tolist()]
    return [sides for sides in moved if max(sides[0], sides[1]) < 1.0 and min(sides[2], sides[3]) > 0.0]


def _moved(rectangle: Rectangle, u: float, v: float) -> tuple[float, float, float, float]:
    return rectangle.left - u, rectangle.bottom - v, rectangle.right - u, rectangle.top - v


def _arrow(area: SafeArea, aspect: float, upright: Upright) -> Arrow:
    """Make an arrow that points up on an island, beside its safe rectangle.

    Where plain lettering is rotated counter-clockwise by t on the surface, the surface's up is rotated clockwise by t
    from v. Where plain lettering is mirrored, the surface's up is rotated counter-clockwise.

    Args:
        area: The island and its safe rectangle.
        aspect: Width over height of the texture.
        upright: Up and front in the scene.
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
    """The label of an arrow: `island 1 up`, and the direction that the island faces, if it has one."""
    side = None if region.side is None else word_of_side(region.side, upright)
    up = f"island {region.island} up"
    if region.reading.flat:
        return f"{up}, to the {'front' if side == 'below' else 'back'}"
    return f"{up}, looks {_LOOKS[side]}" if side in _LOOKS else up


def _room(area: SafeArea, aspect: float) -> tuple[float, float, float, float]:
    """Find the space for an arrow: the broadest of the four parts of an island's box beside its safe rectangle.

    If the rectangle leaves hardly any space, the space is the upper left corner of the box. Without a rectangle, it is
    the whole box.

    Args:
        area: The island and its safe rectangle.
        aspect: Width over height of the texture.

    Returns:
        Left, bottom, right and top, in UV.
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
