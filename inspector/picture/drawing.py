"""A frame as a picture: surface, texture or values, wires, points, and marks over them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats, Integers
from inspector.picture.camera import Camera
from inspector.picture.canvas import GROUND, INK, QUIET, Colour, Mask, Picture, blank, grown, say_blocks, stripes
from inspector.picture.lines import points, wires
from inspector.picture.marks import mark_faces, mark_vertices
from inspector.picture.ramp import Ramp
from inspector.picture.raster import Raster
from inspector.picture.shading import brightness
from inspector.picture.shape import Shape
from inspector.picture.texture import sampled, seen_uvs
from inspector.picture.view import view

_SURFACE = (212, 212, 212)
_TEXTURE_SHADE = 0.5
"""How much of the light a textured surface takes: enough for its form, little enough for the texture to be judged."""

_LINE_SHADE = 0.4

_BEHIND: Colour = (62, 66, 74)

_ROWS = 64
"""Rows of a picture that are textured at a time."""

_POINT = 400
"""Height of a picture in pixels from which points are more than one pixel large."""


@dataclass(frozen=True, eq=False)
class Style:
    """What to draw. Without a surface, wires and points are seen through, unless it still hides them (`solid`).

    textures, (h, w, 3) uint8 each: laid on by the UVs; texture_of (t,): which of them lies on each triangle, -1 for
    none (None: the first on all). values (t, 3) with `ramp`: at the triangles' corners, blended between them.
    marked_faces: numbers of faces to hatch; marked_vertices: to cross. ground: a colour, or the picture behind.
    """

    surface: bool = True
    solid: bool = False
    textures: Sequence[Picture] = ()
    texture_of: npt.NDArray[np.integer] | None = None
    smooth_texture: bool = True
    values: Floats | None = None
    ramp: Ramp | None = None
    wires: bool = False
    points: bool = False
    marked_faces: npt.NDArray[np.integer] | None = None
    marked_vertices: npt.NDArray[np.integer] | None = None
    ground: Colour | Picture = GROUND


def draw(camera: Camera, positions: Floats, shape: Shape, style: Style, width: int, height: int) -> Picture:
    """The picture (height, width, 3) of a frame: positions (n, 3) float64, scene units, and its shape."""
    return draw_with_raster(camera, positions, shape, style, width, height)[0]


@np.errstate(all="ignore")  # numbers beyond all bounds are drawn as nothing
def draw_with_raster(
    camera: Camera, positions: Floats, shape: Shape, style: Style, width: int, height: int
) -> tuple[Picture, Raster]:
    """The picture, and what each of its pixels sees; nothing where no surface was looked for."""
    marked = style.marked_faces is not None or style.marked_vertices is not None
    drawn = shape.triangles if style.surface or style.solid or marked else shape.triangles[:0]
    raster = view(camera, positions, drawn, width, height)
    picture = style.ground.copy() if isinstance(style.ground, np.ndarray) else blank(width, height, style.ground)
    if style.surface:
        colours = _surface_colours(camera, positions, shape, style, raster)
        picture[raster.covered] = colours[raster.covered]
    wall = raster if style.surface or style.solid else None
    under = raster.covered if style.surface else None
    if style.wires:
        _darken(picture, wires(camera, positions, shape.edges, width, height, wall), under)
    if style.points:
        dots = points(camera, positions, np.flatnonzero(np.bincount(shape.triangles.reshape(-1))), width, height, wall)
        _darken(picture, grown(dots, height // _POINT), under)
    if style.marked_faces is not None:
        mark_faces(picture, raster, camera, positions, shape, style.marked_faces)
    if style.marked_vertices is not None:
        mark_vertices(picture, raster, camera, positions, style.marked_vertices)
    if raster.block > 1:
        say_blocks(picture)
    return picture, raster


def seen_values(values: Floats, raster: Raster) -> Floats:
    """values (t, 3), at the triangles' corners -> (h, w): the value that each pixel sees, NaN where it sees none."""
    seen = np.full(raster.depth.shape, np.nan)
    covered = raster.covered
    seen[covered] = (values[raster.triangle[covered]] * raster.weights[covered]).sum(axis=1)
    return seen


@np.errstate(all="ignore")
def draw_behind(camera: Camera, positions: Floats, triangles: Integers, width: int, height: int) -> Picture:
    """Another frame as a ground to draw on, (height, width, 3): a dim shade with a quiet rim, so that its form
    distinguishes it from the frame before it. triangles (t, 3): vertices."""
    picture = blank(width, height)
    covered = view(camera, positions, triangles, width, height).covered
    picture[covered] = _BEHIND
    picture[covered & grown(~covered, 1)] = QUIET
    return picture


def _darken(picture: Picture, lines: Mask, surface: Mask | None) -> None:
    """Draw lines in place: a darker shade of the surface, so that thin parts full of lines still stand out from the
    ground; the light colour of ink where no surface is drawn, and a quiet one beside the surface."""
    over = lines & surface if surface is not None else np.zeros_like(lines)
    picture[over] = (picture[over] * _LINE_SHADE).astype(np.uint8)
    picture[lines & ~over] = INK if surface is None else QUIET


def _surface_colours(camera: Camera, positions: Floats, shape: Shape, style: Style, raster: Raster) -> Picture:
    light = brightness(raster, camera, positions, shape.triangles)[..., None]
    if style.values is not None and style.ramp is not None:
        return style.ramp.picture(seen_values(style.values, raster))
    if not style.textures:
        return np.asarray(light * np.array(_SURFACE), np.uint8)
    texture = _texture_colours(raster, shape.corner_uvs, style)
    return np.asarray(texture * (1.0 - _TEXTURE_SHADE + _TEXTURE_SHADE * light), np.uint8)


def _texture_colours(raster: Raster, corner_uvs: Floats, style: Style) -> Picture:
    """The textures where there are UVs; striped grey where there are none, or no texture. In bands, for on the way a
    pixel takes a few hundred bytes."""
    height, width = raster.triangle.shape
    picture = blank(width, height, (150, 150, 150))
    picture[stripes(height, width, period=8, thickness=2)] = (96, 96, 96)
    for start in range(0, height, _ROWS):
        rows = slice(start, start + _ROWS)
        band = Raster(raster.triangle[rows], raster.depth[rows], raster.weights[rows])
        _lay_textures(picture[rows], band, corner_uvs, style)
    return picture


def _lay_textures(picture: Picture, raster: Raster, corner_uvs: Floats, style: Style) -> None:
    """Colour a band of the picture in place."""
    uvs = seen_uvs(raster, corner_uvs)
    known = np.isfinite(uvs).all(axis=2)
    for number, texture in enumerate(style.textures if style.texture_of is not None else style.textures[:1]):
        here = known if style.texture_of is None else known & (style.texture_of[raster.triangle] == number)
        picture[here] = sampled(texture, uvs[here], smooth=style.smooth_texture)
