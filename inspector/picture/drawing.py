"""Draw a frame as a picture: the surface, which can show textures or values, and the wires, points and marks on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats, Integers
from inspector.picture.camera import Camera
from inspector.picture.canvas import GROUND, INK, QUIET, Colour, Mask, Picture, blank, grown, say_blocks, stripes
from inspector.picture.marks import mark_faces, mark_vertices
from inspector.picture.ramp import Ramp
from inspector.picture.raster import Raster
from inspector.picture.shading import brightness
from inspector.picture.shape import Shape
from inspector.picture.texture import sampled, seen_uvs
from inspector.picture.view import view
from inspector.picture.wires import points, wires

_SURFACE = (212, 212, 212)
_TEXTURE_SHADE = 0.5
"""Fraction of the shading that a textured surface shows: enough to show the shape, but too little to hide the
texture.
"""

_LINE_SHADE = 0.4

_BACKGROUND_SHADE: Colour = (62, 66, 74)

_ROWS = 64
"""Number of rows of a picture that are textured at a time."""

_POINT = 400
"""Minimum height, in pixels, of a picture in which points are drawn larger than one pixel."""


@dataclass(frozen=True, eq=False)
class Style:
    """Options for drawing a frame.

    If the surface is not drawn, all wires and points are visible, unless `solid` is set.

    Attributes:
        surface: Whether the surface is drawn.
        solid: Whether the surface hides wires and points even if it is not drawn.
        textures: The textures, (h, w, 3) uint8 each; empty for no textures.
        texture_of: Index of the texture of each triangle, (t,), -1 for none; None for the first texture on all
            triangles.
        smooth_texture: Whether neighbouring pixels of a texture are blended.
        values: Values at the corners of the triangles, (t, 3), interpolated between the corners and shown by `ramp`;
            None for no values.
        ramp: Ramp that turns values into shades; None to show no values.
        wires: Whether the edges of the faces are drawn.
        points: Whether the vertices are drawn.
        marked_faces: Indices of the faces to hatch; None for none.
        marked_vertices: Indices of the vertices to mark with a cross; None for none.
        ground: The background, as a colour or as a picture.
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
    """Draw a frame.

    Args:
        camera: The camera.
        positions: Positions of the vertices, (n, 3) float64, in scene units.
        shape: The frame's shape.
        style: Options for drawing.
        width: Width in pixels.
        height: Height in pixels.

    Returns:
        The picture, (height, width, 3).
    """
    return draw_with_raster(camera, positions, shape, style, width, height)[0]


@np.errstate(all="ignore")  # extreme numbers are not drawn
def draw_with_raster(
    camera: Camera, positions: Floats, shape: Shape, style: Style, width: int, height: int
) -> tuple[Picture, Raster]:
    """Draw a frame, and also return the triangle that is visible at each pixel. The arguments are those of `draw`.

    Returns:
        The picture and the raster. If the surface is neither drawn nor solid, and `style` marks no faces or vertices,
        the raster contains no triangle.
    """
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
    """Interpolate values at the point of the surface that is visible at each pixel, (h, w); NaN where no triangle is
    visible.

    Args:
        values: Values at the corners of the triangles, (t, 3).
        raster: The triangle that is visible at each pixel.
    """
    seen = np.full(raster.depth.shape, np.nan)
    covered = raster.covered
    seen[covered] = (values[raster.triangle[covered]] * raster.weights[covered]).sum(axis=1)
    return seen


@np.errstate(all="ignore")
def draw_behind(camera: Camera, positions: Floats, triangles: Integers, width: int, height: int) -> Picture:
    """Draw another frame as a background, (height, width, 3): a dim silhouette with a thin outline.

    Args:
        camera: The camera.
        positions: Positions of the vertices, (n, 3) float64, in scene units.
        triangles: Vertices of the triangles, (t, 3).
        width: Width in pixels.
        height: Height in pixels.
    """
    picture = blank(width, height)
    covered = view(camera, positions, triangles, width, height).covered
    picture[covered] = _BACKGROUND_SHADE
    picture[covered & grown(~covered, 1)] = QUIET
    return picture


def _darken(picture: Picture, lines: Mask, surface: Mask | None) -> None:
    """Draw lines into a picture.

    Lines on the surface are a darker shade of its colours, so that thin parts full of lines stay distinct from the
    background. Other lines are grey, or have the colour INK if no surface is drawn.
    """
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
    """Make a picture of the textures' colours, with grey stripes where there are no UVs or no texture. The picture is
    made in bands of rows to save memory, because each pixel temporarily takes a few hundred bytes.
    """
    height, width = raster.triangle.shape
    picture = blank(width, height, (150, 150, 150))
    picture[stripes(height, width, period=8, thickness=2)] = (96, 96, 96)
    for start in range(0, height, _ROWS):
        rows = slice(start, start + _ROWS)
        band = Raster(raster.triangle[rows], raster.depth[rows], raster.weights[rows])
        _lay_textures(picture[rows], band, corner_uvs, style)
    return picture


def _lay_textures(picture: Picture, raster: Raster, corner_uvs: Floats, style: Style) -> None:
    """Draw the textures into a band of the picture."""
    uvs = seen_uvs(raster, corner_uvs)
    known = np.isfinite(uvs).all(axis=2)
    for number, texture in enumerate(style.textures if style.texture_of is not None else style.textures[:1]):
        here = known if style.texture_of is None else known & (style.texture_of[raster.triangle] == number)
        picture[here] = sampled(texture, uvs[here], smooth=style.smooth_texture)
