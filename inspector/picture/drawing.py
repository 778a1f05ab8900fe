"""A frame as a picture: surface, texture or values, wires, points, and marks over them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.picture.camera import Camera
from inspector.picture.canvas import GROUND, INK, QUIET, Colour, Mask, Picture, blank, grown, stripes
from inspector.picture.lines import points, wires
from inspector.picture.marks import mark_faces, mark_vertices
from inspector.picture.ramp import Ramp
from inspector.picture.raster import Raster
from inspector.picture.shading import brightness
from inspector.picture.shape import Shape
from inspector.picture.texture import sampled, seen_uvs
from inspector.picture.view import view

Floats = npt.NDArray[np.float64]

_SURFACE = (206, 208, 204)
_TEXTURE_SHADE = 0.5
"""How much of the light a textured surface takes: enough for its form, little enough for the texture to be judged."""

_LINE_SHADE = 0.4

_POINT = 400
"""Height of a picture in pixels from which points are more than one pixel large."""


@dataclass(frozen=True, eq=False)
class Style:
    """What to draw. Without a surface, wires and points are seen through.

    texture (h, w, 3) uint8: laid on by the UVs. values (t, 3) with `ramp`: at the triangles' corners, blended between
    them. marked_faces: numbers of faces to hatch; marked_vertices: to cross.
    """

    surface: bool = True
    texture: Picture | None = None
    smooth_texture: bool = True
    values: Floats | None = None
    ramp: Ramp | None = None
    wires: bool = False
    points: bool = False
    marked_faces: npt.NDArray[np.integer] | None = None
    marked_vertices: npt.NDArray[np.integer] | None = None
    ground: Colour = GROUND


def draw(camera: Camera, positions: Floats, shape: Shape, style: Style, width: int, height: int) -> Picture:
    """The picture (height, width, 3) of a frame: positions (n, 3) float64, scene units, and its shape."""
    marked = style.marked_faces is not None or style.marked_vertices is not None
    drawn = shape.triangles if style.surface or marked else shape.triangles[:0]
    raster = view(camera, positions, drawn, width, height)
    picture = blank(width, height, style.ground)
    if style.surface:
        colours = _surface_colours(camera, positions, shape, style, raster)
        picture[raster.covered] = colours[raster.covered]
    wall = raster if style.surface else None
    if style.wires:
        _darken(picture, wires(camera, positions, shape.edges, width, height, wall), wall)
    if style.points:
        dots = points(camera, positions, np.unique(shape.triangles), width, height, wall)
        _darken(picture, grown(dots, height // _POINT), wall)
    if style.marked_faces is not None:
        mark_faces(picture, raster, camera, positions, shape, style.marked_faces)
    if style.marked_vertices is not None:
        mark_vertices(picture, raster, camera, positions, style.marked_vertices)
    return picture


def _darken(picture: Picture, lines: Mask, surface: Raster | None) -> None:
    """Draw lines in place: a darker shade of the surface, so that thin parts full of lines still stand out from the
    ground; the light colour of ink where no surface is drawn, and a quiet one beside the surface."""
    over = lines & surface.covered if surface is not None else np.zeros_like(lines)
    picture[over] = (picture[over] * _LINE_SHADE).astype(np.uint8)
    picture[lines & ~over] = INK if surface is None else QUIET


def _surface_colours(camera: Camera, positions: Floats, shape: Shape, style: Style, raster: Raster) -> Picture:
    light = brightness(raster, camera, positions, shape.triangles)[..., None]
    if style.values is not None and style.ramp is not None:
        values = np.full(raster.depth.shape, np.nan)
        covered = raster.covered
        values[covered] = (style.values[raster.triangle[covered]] * raster.weights[covered]).sum(axis=1)
        picture = style.ramp.picture(values)
        style.ramp.letter(picture, values)
        return picture
    if style.texture is None:
        return np.asarray(light * np.array(_SURFACE), np.uint8)
    texture = _texture_colours(raster, shape.corner_uvs, style.texture, style.smooth_texture)
    return np.asarray(texture * (1.0 - _TEXTURE_SHADE + _TEXTURE_SHADE * light), np.uint8)


def _texture_colours(raster: Raster, corner_uvs: Floats, texture: Picture, smooth: bool) -> Picture:
    """The texture where there are UVs; striped grey where there are none."""
    uvs = seen_uvs(raster, corner_uvs)
    known = np.isfinite(uvs).all(axis=2)
    height, width = known.shape
    picture = blank(width, height, (150, 150, 150))
    picture[stripes(height, width, period=8, thickness=2)] = (96, 96, 96)
    picture[known] = sampled(texture, uvs[known], smooth=smooth)
    return picture
