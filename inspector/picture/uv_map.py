"""Draw the UV map: the texture, the islands and their outlines over it, and hatching on overlaps and mirrored faces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector import limits
from inspector.arrays import Floats, Integers
from inspector.picture.canvas import DARK, INK, QUIET, Colour, Mask, Picture, blank, stripes, write_framed
from inspector.picture.face_counts import coverage, twice_areas
from inspector.picture.marks import MARK, hatch
from inspector.picture.raster import rasterise
from inspector.picture.texture import sampled
from inspector.picture.wires import line_pixels

_ISLANDS = np.array([(92, 108, 120), (112, 120, 104), (124, 110, 110), (104, 100, 124)])
"""Colours of the islands, used in turn."""
_OVER_TEXTURE = 0.35
_NEIGHBOURS = 0.4
_LIGHT_TEXTURE = 110
_MOST_SQUARES = 200


@dataclass(frozen=True, slots=True)
class Window:
    """The part of the UV plane that is drawn.

    Attributes:
        left: Smallest u.
        bottom: Smallest v.
        right: Largest u.
        top: Largest v.
    """

    left: float = -0.05
    bottom: float = -0.05
    right: float = 1.05
    top: float = 1.05

    def to_pixels(self, uvs: Floats, width: int, height: int) -> Floats:
        """Convert UVs, (..., 2), to pixels, (..., 2), with y downward.

        Args:
            uvs: The UVs.
            width: Width of the picture, in pixels.
            height: Height of the picture, in pixels.
        """
        scale = np.array([width / (self.right - self.left), height / (self.top - self.bottom)])
        return np.asarray((uvs - np.array([self.left, self.bottom])) * scale * [1.0, -1.0] + [0.0, float(height)])

    def uvs_of_pixels(self, width: int, height: int) -> Floats:
        """Return the UVs of the pixels' centres, (height, width, 2).

        Args:
            width: Width of the picture, in pixels.
            height: Height of the picture, in pixels.
        """
        u = self.left + (np.arange(width) + 0.5) / width * (self.right - self.left)
        v = self.top - (np.arange(height) + 0.5) / height * (self.top - self.bottom)
        return np.stack(np.meshgrid(u, v), axis=-1)


@dataclass(frozen=True, eq=False)
class UvMap:
    """The UV layout of a frame, for drawing.

    Attributes:
        corner_uvs: UVs of the triangles' corners, (t, 3, 2); NaN for a corner without a UV.
        face: Index of the face that each triangle is part of, (t,).
        island: Index of each triangle's island, (t,); below 0 for none.
        sides: UVs at both ends of the sides of the faces, (e, 2, 2).
        outlines: UVs at both ends of the sides on the boundaries of the islands, (o, 2, 2).
    """

    corner_uvs: Floats
    face: Integers
    island: Integers
    sides: Floats
    outlines: Floats


@dataclass(frozen=True, eq=False)
class UvLayers:
    """The content of each pixel of a window, (h, w) each.

    Attributes:
        island: Index of the island; below 0 for none.
        overlaps: Whether two or more faces cover the pixel.
        mirrored: Whether a mirrored face (its UVs run clockwise) covers the pixel.
        sides: Whether a side of a face runs through the pixel.
        outlines: Whether the boundary of an island runs through the pixel.
        square: Whether the border of a unit square runs through the pixel.
    """

    island: Integers
    overlaps: Mask
    mirrored: Mask
    sides: Mask
    outlines: Mask
    square: Mask


def uv_layers(uv_map: UvMap, window: Window, width: int, height: int) -> UvLayers:
    """Draw the layers of a UV map. A pixel on a side that two faces share belongs to only one of them."""
    pixels = window.to_pixels(uv_map.corner_uvs, width, height)
    flat = np.concatenate([pixels, np.zeros((*pixels.shape[:2], 1))], axis=2)
    area = np.bincount(uv_map.face, np.nan_to_num(twice_areas(uv_map.corner_uvs))) if len(flat) else np.zeros(0)
    clockwise = area[uv_map.face] < 0.0
    triangle = rasterise(flat, width, height, perspective=False).triangle
    squares = np.array([[[a, b], [c, d]] for a, b, c, d in _square_sides(window)]).reshape(-1, 2, 2)
    return UvLayers(
        island=np.where(triangle >= 0, uv_map.island[triangle], -1) if len(flat) else triangle,
        overlaps=coverage(pixels, uv_map.face, width, height) > 1,
        mirrored=coverage(pixels[clockwise], uv_map.face[clockwise], width, height) > 0,
        sides=line_pixels(window.to_pixels(uv_map.sides, width, height), width, height),
        outlines=line_pixels(window.to_pixels(uv_map.outlines, width, height), width, height),
        square=line_pixels(window.to_pixels(squares, width, height), width, height),
    )


def moved_triangles(uv_map: UvMap, before: UvMap) -> Mask | None:
    """Return whether the UVs of each triangle differ by more than limits.UV_DIFFERENCE from those in another map, (t,);
    None if the maps don't have the same triangles."""
    if uv_map.corner_uvs.shape != before.corner_uvs.shape or not np.array_equal(uv_map.face, before.face):
        return None
    ours, theirs = np.nan_to_num(uv_map.corner_uvs), np.nan_to_num(before.corner_uvs)
    return np.asarray((np.abs(ours - theirs) > limits.UV_DIFFERENCE.value).any(axis=(1, 2)))


def draw_uv_map(
    uv_map: UvMap,
    width: int,
    height: int,
    *,
    window: Window | None = None,
    texture: Picture | None = None,
    named: bool = True,
) -> Picture:
    """Draw a UV map, (height, width, 3).

    Overlaps are hatched with stripes that rise to the right, and mirrored faces with stripes that fall to the right.

    Args:
        uv_map: The map.
        width: Width in pixels.
        height: Height in pixels.
        window: The part of the UV plane that is drawn; None for the unit square with a margin.
        texture: The texture behind the islands, (h, w, 3); None for no texture.
        named: Whether "overlaps" is written beside an overlap, and "mirrored" beside a mirrored face.
    """
    window = window or Window()
    layers = uv_layers(uv_map, window, width, height)
    picture = _islands(layers, window, texture)
    hatch(picture, layers.overlaps)
    picture[layers.mirrored & stripes(height, width, period=8, thickness=2, rising=False)] = INK
    picture[layers.outlines] = _outline_colour(texture)
    if named:
        for mask, word in ((layers.overlaps, "overlaps"), (layers.mirrored & ~layers.overlaps, "mirrored")):
            _name(picture, mask, word)
    return picture


def draw_uv_difference(
    uv_map: UvMap,
    before: UvMap,
    width: int,
    height: int,
    *,
    window: Window | None = None,
    texture: Picture | None = None,
) -> Picture:
    """Draw a UV map and its differences from the UV map of another frame, (height, width, 3).

    Triangles whose UVs differ are hatched with horizontal lines, and the outlines of the other map are dotted.

    Args:
        uv_map: The map.
        before: The other frame's map.
        width: Width in pixels.
        height: Height in pixels.
        window: The part of the UV plane that is drawn; None for the unit square with a margin.
        texture: The texture behind the islands, (h, w, 3); None for no texture.
    """
    window = window or Window()
    layers = uv_layers(uv_map, window, width, height)
    picture = _islands(layers, window, texture)
    row, column = np.ogrid[:height, :width]
    moved = moved_triangles(uv_map, before)
    if moved is not None and moved.any():
        pixels = window.to_pixels(uv_map.corner_uvs[moved], width, height)
        picture[(coverage(pixels, uv_map.face[moved], width, height) > 0) & (row % 4 == 0)] = MARK
    picture[layers.outlines] = _outline_colour(texture)
    old = line_pixels(window.to_pixels(before.outlines, width, height), width, height)
    picture[old & ((row + column) % 2 == 0)] = MARK
    return picture


def _islands(layers: UvLayers, window: Window, texture: Picture | None) -> Picture:
    """Draw the background, the unit squares and the islands. Outside the square from (0, 0) to (1, 1), the texture is
    dimmer."""
    height, width = layers.island.shape
    picture = blank(width, height)
    if texture is not None:
        uvs = window.uvs_of_pixels(width, height)
        picture[:] = sampled(texture, uvs)
        outside = ((uvs < 0.0) | (uvs > 1.0)).any(axis=2)
        picture[outside] = (picture[outside] * _NEIGHBOURS).astype(np.uint8)
    picture[layers.square] = QUIET
    picture[_unit_square(window, width, height)] = INK
    inside = layers.island >= 0
    tint = _ISLANDS[layers.island[inside] % len(_ISLANDS)]
    share = 1.0 if texture is None else _OVER_TEXTURE
    picture[inside] = (picture[inside] * (1.0 - share) + tint * share).astype(np.uint8)
    picture[layers.sides] = (picture[layers.sides] * 0.7).astype(np.uint8)
    return picture


def _outline_colour(texture: Picture | None) -> Colour:
    return DARK if texture is not None and texture.mean() > _LIGHT_TEXTURE else INK


def _unit_square(window: Window, width: int, height: int) -> Mask:
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    sides = np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
    return line_pixels(window.to_pixels(sides, width, height), width, height)


def _square_sides(window: Window) -> list[tuple[float, float, float, float]]:
    """Return both ends of each grid line in the window. On a grid line, u or v is an integer.

    The result is empty if there are too many grid lines.
    """
    if max(window.right - window.left, window.top - window.bottom) > _MOST_SQUARES:
        return []
    us = np.arange(np.ceil(window.left), np.floor(window.right) + 1).tolist()
    vs = np.arange(np.ceil(window.bottom), np.floor(window.top) + 1).tolist()
    upright = [(u, window.bottom, u, window.top) for u in us]
    return upright + [(window.left, v, window.right, v) for v in vs]


def _name(picture: Picture, mask: Mask, word: str) -> None:
    """Write a word into a picture, beside the first pixel in the middle row of a mask, unless the mask is empty."""
    rows = np.flatnonzero(mask.any(axis=1))
    if len(rows):
        row = int(rows[len(rows) // 2])
        write_framed(picture, word, int(np.argmax(mask[row])) + 4, row - 4)
