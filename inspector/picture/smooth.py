"""Draw pictures with smooth edges, from several samples per pixel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector import _native, limits
from inspector.arrays import Floats, Integers
from inspector.picture.camera import Camera
from inspector.picture.canvas import Picture, say_blocks
from inspector.picture.raster import NONE, Owners, Raster, owners_of
from inspector.picture.shading import KEY, light_in_texture, light_on
from inspector.picture.shape import Shape
from inspector.picture.view import Pieces, pieces_of
from inspector.picture.wires import wires

PLAIN, BARE = -2, -1
"""Values in `Coats.of_triangle` for a surface without a texture, and for a missing texture, which is drawn as
stripes."""

_PLAIN_COLOUR, _STRIPE, _BETWEEN = 212.0, 96.0, 150.0
_TEXTURE_LIGHT, _NORMALS_LIGHT = 0.5, 0.85
"""Weights of the shading in the colours of a texture: the first without a normal map, the second with a normal map."""

_WIRE_LIGHT = 0.4
_FARTHEST = 1e9
"""Maximum absolute value of drawn texture coordinates. Larger coordinates have too few decimal places."""


@dataclass(frozen=True, eq=False)
class Textures:
    """Textures in several sizes. Each size is half as wide and half as high as the previous size.

    Attributes:
        data: Pixels of all sizes, (bytes,) uint8: rows of red, green and blue.
        levels: For each size, the offset in `data` at which it begins, its width and its height, (n, 3) int64.
        first: For each texture, its first row in `levels` and its number of rows, (m, 2) int64.
    """

    data: npt.NDArray[np.uint8]
    levels: Integers
    first: Integers

    @classmethod
    def of(cls, pictures: Sequence[Picture]) -> Textures:
        """Make textures, in all sizes down to a single pixel, from pictures, (h, w, 3) each."""
        from PIL import Image

        parts: list[npt.NDArray[np.uint8]] = []
        levels: list[tuple[int, int, int]] = []
        first: list[tuple[int, int]] = []
        offset = 0
        for picture in pictures:
            image = Image.fromarray(np.ascontiguousarray(picture))
            start = len(levels)
            while True:
                part = np.asarray(image).reshape(-1)
                parts.append(part)
                levels.append((offset, image.width, image.height))
                offset += len(part)
                if max(image.size) == 1:
                    break
                half = max(image.width // 2, 1), max(image.height // 2, 1)
                image = image.resize(half, Image.Resampling.BOX)
            first.append((start, len(levels) - start))
        return cls(
            np.concatenate(parts) if parts else np.zeros(0, np.uint8),
            np.array(levels, np.int64).reshape(-1, 3),
            np.array(first, np.int64).reshape(-1, 2),
        )


@dataclass(frozen=True, eq=False)
class Coats:
    """The textures on the triangles of a shape.

    Attributes:
        textures: Colour maps and normal maps.
        of_triangle: For each triangle, the index of its colour map (PLAIN or BARE if it has none) and of its normal map
            (-1 if it has none), (t, 2) int32.
    """

    textures: Textures
    of_triangle: Integers


def fineness(width: int, height: int) -> int:
    """Choose the number of samples along each side of a pixel, from 1 to 3, so that the picture has at most
    limits.DRAWN_PIXELS samples if possible."""
    return max(factor for factor in (1, 2, 3) if factor == 1 or factor**2 * width * height <= limits.DRAWN_PIXELS)


@np.errstate(all="ignore")  # extreme numbers are not drawn
def draw_smooth(
    camera: Camera, positions: Floats, shape: Shape, coats: Coats, ground: Picture, *, with_wires: bool = False
) -> Picture:
    """Draw a frame with smooth edges on a background, (h, w, 3).

    Args:
        camera: The camera.
        positions: Positions of the vertices, (n, 3) float64, in scene units.
        shape: The frame's shape.
        coats: The textures on its triangles.
        ground: The background, (h, w, 3). It is not changed.
        with_wires: Whether the edges of the faces are drawn.
    """
    height, width = ground.shape[:2]
    factor = fineness(width, height)
    picture = ground.copy()
    pieces = pieces_of(camera, positions, shape.triangles, width * factor, height * factor)
    left, top, right, bottom = _reach(pieces, width, height, factor)
    if left >= right or top >= bottom:
        return picture
    corners = pieces.corners - [left * factor, top * factor, 0.0]
    seen = owners_of(corners, (right - left) * factor, (bottom - top) * factor, perspective=camera.perspective)
    window = np.ascontiguousarray(picture[top:bottom, left:right])
    drawn = _drawn(camera, positions, shape, coats, pieces, corners, seen)
    resolved(seen.owner, drawn, coats.textures, window, factor)
    picture[top:bottom, left:right] = window
    if with_wires:
        wall = _wall(seen.depth, (left, top, right, bottom), width, height, factor)
        lines = wires(camera, positions, shape.edges, width * factor, height * factor, wall)
        share = lines.reshape(height, factor, width, factor).mean(axis=(1, 3)) * min(factor, 2)
        dark = 1.0 - (1.0 - _WIRE_LIGHT) * np.minimum(share, 1.0)
        picture = np.asarray(np.rint(picture * dark[..., None]), np.uint8)
    if seen.block > 1:
        say_blocks(picture)
    return picture


def _reach(pieces: Pieces, width: int, height: int, factor: int) -> tuple[int, int, int, int]:
    """Return the left, top, right and bottom, in pixels, of the part of the picture in which something may be
    visible."""
    places = pieces.corners[..., :2].reshape(-1, 2) / factor
    places = places[np.isfinite(places).all(axis=1)]
    if not len(places):
        return 0, 0, 0, 0
    low, high = np.clip([places.min(axis=0) - 1, places.max(axis=0) + 1], 0, [width, height])
    return int(low[0]), int(low[1]), int(np.ceil(high[0])), int(np.ceil(high[1]))


@dataclass(frozen=True, eq=False)
class Drawn:
    """Triangles that are ready to be coloured, one row for each entry of `Owners.source`.

    Attributes:
        planes: The inverse of the depth, u over the depth, and v over the depth, (k, 9) float64, each as a constant, a
            slope along x and a slope along y. They are linear in the picture (Heckbert 1989, "Fundamentals of texture
            mapping and image warping", section 3).
        light: Seven numbers for each triangle, (k, 7) float64: its brightness; the direction to the light along u,
            along v and away from the surface; the part of the brightness that doesn't depend on the direction to the
            light; the maximum brightness that the light adds; and the weight of the shading in the colour of a texture.
        coats: Maps of each triangle, (k, 2) int32, as in `Coats.of_triangle`.
    """

    planes: Floats
    light: Floats
    coats: Integers


def _drawn(
    camera: Camera, positions: Floats, shape: Shape, coats: Coats, pieces: Pieces, corners: Floats, seen: Owners
) -> Drawn:
    """Prepare the triangles of `seen.source` for colouring. In `corners`, x and y are measured in samples from the
    window's upper left corner."""
    kept = seen.source
    source = pieces.source[kept]
    uvs = pieces.of_corners(shape.corner_uvs, kept)
    x, y, depth = np.ascontiguousarray(corners[kept].transpose(2, 1, 0))
    inverse = 1.0 / depth if seen.perspective else np.ones_like(depth)
    values = np.stack([inverse, uvs[..., 0].T * inverse, uvs[..., 1].T * inverse])
    (x1, x2), (y1, y2) = x[1:] - x[0], y[1:] - y[0]
    (d1, d2) = (values[:, 1] - values[:, 0], values[:, 2] - values[:, 0])
    area = x1 * y2 - x2 * y1
    across, down = (d1 * y2 - d2 * y1) / area, (d2 * x1 - d1 * x2) / area
    planes = np.stack([values[:, 0] - across * x[0] - down * y[0], across, down], axis=1)
    scene = positions[shape.triangles[source]]
    light = light_on(camera, scene)
    chosen = coats.of_triangle[source]
    along = np.zeros((3, len(kept)))
    if (bumpy := chosen[:, 1] >= 0).any():
        along = light_in_texture(camera, scene, shape.corner_uvs[source], light.normal)
    share = np.where(chosen[:, 0] == PLAIN, 1.0, np.where(bumpy, _NORMALS_LIGHT, _TEXTURE_LIGHT))
    lights = np.stack([light.bright, *along, light.rest, np.full(len(kept), KEY), share], axis=1)
    return Drawn(planes.reshape(9, -1).T, lights, chosen.astype(np.int32))


def resolved(owner: Integers, drawn: Drawn, textures: Textures, picture: Picture, factor: int) -> None:
    """Colour the samples of a picture, and blend them into it.

    Args:
        owner: Index in `drawn` of the triangle at each sample, (h * factor, w * factor) int32; NONE for no triangle.
        drawn: The triangles.
        textures: The textures on the triangles.
        picture: The picture, (h, w, 3), contiguous in memory.
        factor: Number of samples along each side of a pixel.
    """
    if _native.active:
        given = (owner, drawn.planes, drawn.light, drawn.coats, textures.data, textures.levels, textures.first)
        _native.resolve(*given, picture=picture, factor=factor)
        return
    pixel, triangle, x, y, share = _spots(owner, factor)
    height, width = picture.shape[:2]
    striped = (pixel // width + pixel % width) % 8 < 2
    colours = _shaded(drawn, triangle, textures, x, y, striped) * share[:, None]
    flat = picture.reshape(-1, 3)
    covered = np.bincount(pixel, share, height * width)
    sums = np.stack([np.bincount(pixel, colours[:, part], height * width) for part in range(3)], axis=1)
    there = np.flatnonzero(covered)
    laid = sums[there] + (1.0 - covered[there])[:, None] * flat[there]
    flat[there] = np.rint(np.clip(np.nan_to_num(laid), 0.0, 255.0))


def _spots(owner: Integers, factor: int) -> tuple[Any, ...]:
    """Find every pair of a pixel and a triangle that is visible in it.

    Returns:
        Five arrays, (n,) each, with one value per pair: the index of the pixel; the index of the triangle; x and y, in
        samples, of the centre of the triangle's samples in the pixel; and the fraction of the pixel's samples that show
        the triangle.
    """
    height, width = owner.shape[0] // factor, owner.shape[1] // factor
    samples = [owner[down::factor, across::factor].reshape(-1) for down in range(factor) for across in range(factor)]
    least, most = samples[0].copy(), samples[0].copy()
    for one in samples[1:]:
        np.minimum(least, one, out=least)
        np.maximum(most, one, out=most)
    row, column = np.divmod(np.arange(height * width), width)
    whole = np.flatnonzero((least == most) & (most != NONE))
    mixed = np.flatnonzero(least != most)
    pixel = np.tile(mixed, len(samples))
    triangle = np.concatenate([one[mixed] for one in samples])
    place = np.repeat(np.arange(len(samples)), len(mixed))
    x = column[pixel] * factor + place % factor + 0.5
    y = row[pixel] * factor + place // factor + 0.5
    seen = triangle != NONE
    key = pixel[seen].astype(np.int64) << 32 | triangle[seen]
    found, which, times = np.unique(key, return_inverse=True, return_counts=True)
    return (
        np.concatenate([whole, found >> 32]),
        np.concatenate([least[whole], (found & 0xFFFFFFFF)]).astype(np.int64),
        np.concatenate([(column[whole] + 0.5) * factor, np.bincount(which, x[seen], len(found)) / times]),
        np.concatenate([(row[whole] + 0.5) * factor, np.bincount(which, y[seen], len(found)) / times]),
        np.concatenate([np.ones(len(whole)), times / factor**2]),
    )


def _shaded(
    drawn: Drawn, triangle: Integers, textures: Textures, x: Floats, y: Floats, striped: npt.NDArray[np.bool_]
) -> Floats:
    """Compute the colours, (n, 3), of triangles at points of the picture. The points' coordinates, `x` and `y`, are
    in samples. `shade` in pictures.c does the same."""
    plane, light, coat = drawn.planes.T[:, triangle], drawn.light[triangle], drawn.coats[triangle]
    w = plane[0] + plane[1] * x + plane[2] * y
    u, v = ((plane[at] + plane[at + 1] * x + plane[at + 2] * y) / w for at in (3, 6))
    slopes = [
        (plane[at + 1 + axis] - value * plane[1 + axis]) / w for at, value in ((3, u), (6, v)) for axis in range(2)
    ]
    known = (np.abs(u) < _FARTHEST) & (np.abs(v) < _FARTHEST)
    u, v = u - np.floor(u), 1.0 - (v - np.floor(v))
    bright = light[:, 0].copy()
    bumpy = np.flatnonzero((coat[:, 1] >= 0) & known)
    if len(bumpy):
        normal = _sampled(textures, coat[bumpy, 1], bumpy, u, v, slopes) / 127.5 - 1.0
        length = (normal**2).sum(axis=1)
        facing = (normal * light[bumpy, 1:4]).sum(axis=1)
        facing = np.divide(facing, np.sqrt(length), out=np.zeros_like(facing), where=length > 0.0)
        bright[bumpy] = np.minimum(light[bumpy, 4] + light[bumpy, 5] * np.clip(facing, 0.0, 1.0), 1.0)
    grey = np.where(coat[:, 0] == PLAIN, _PLAIN_COLOUR, np.where(striped, _STRIPE, _BETWEEN))
    colours = np.repeat(grey[:, None], 3, axis=1)
    textured = np.flatnonzero((coat[:, 0] >= 0) & known)
    if len(textured):
        colours[textured] = _sampled(textures, coat[textured, 0], textured, u, v, slopes)
    return np.asarray(colours * (1.0 - light[:, 6] + light[:, 6] * bright)[:, None])


def _sampled(
    textures: Textures, which: Integers, spots: Integers, u: Floats, v: Floats, slopes: Sequence[Floats]
) -> Floats:
    """Look up the colours, (m, 3), of textures at some points. `sample` in pictures.c does the same.

    Each colour is blended from four pixels of the texture. The texture is stored in several sizes. The four pixels are
    taken from the size in which a pixel appears about as large as a pixel of the picture.

    Args:
        textures: The textures.
        which: Index of the texture at each of the m points, (m,).
        spots: Indices of the m points among all n points, (m,).
        u: u of all points, (n,), from 0 to 1.
        v: v of all points, (n,), from 0 to 1, downward.
        slopes: Change of u along x and along y, and of v along x and along y, (n,) each.
    """
    start, count = textures.first[which].T
    width, height = textures.levels[start, 1], textures.levels[start, 2]
    ux, uy, vx, vy = (slope[spots] for slope in slopes)
    one, two = (ux * width) ** 2 + (vx * height) ** 2, (uy * width) ** 2 + (vy * height) ** 2
    square = np.maximum(np.maximum(one, two) / 4.0, np.minimum(one, two))
    steps = np.searchsorted(2.0 * 4.0 ** np.arange(int(count.max()) - 1), square, "right")
    offset, wide, high = textures.levels[start + np.minimum(steps, count - 1)].T
    x, y = u[spots] * wide - 0.5, v[spots] * high - 0.5
    left, top = np.floor(x), np.floor(y)
    across, down = (x - left)[:, None], (y - top)[:, None]
    columns = (left.astype(np.int64) % wide, (left.astype(np.int64) + 1) % wide)
    rows = (top.astype(np.int64) % high, (top.astype(np.int64) + 1) % high)
    pixels = [textures.data[(offset + 3 * (r * wide + c))[:, None] + np.arange(3)] for r in rows for c in columns]
    upper, lower = (a * (1.0 - across) + b * across for a, b in (pixels[:2], pixels[2:]))
    return np.asarray(upper * (1.0 - down) + lower * down)


def _wall(depth: Floats, window: tuple[int, int, int, int], width: int, height: int, factor: int) -> Raster:
    """Make a raster that hides the wires behind the surface.

    Inside the window, the raster's depth is `depth`, the depth of the surface. Outside the window, the raster's depth
    is infinite.
    """
    left, top, right, bottom = (side * factor for side in window)
    whole = np.full((height * factor, width * factor), np.inf)
    whole[top:bottom, left:right] = depth
    return Raster(np.zeros((0, 0), np.int32), whole, np.zeros((0, 0, 3)))
