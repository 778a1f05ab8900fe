"""A texture on a surface: perspective-correct coordinates, and colours from a picture at them."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats
from inspector.picture.canvas import Picture
from inspector.picture.raster import Raster


def seen_uvs(raster: Raster, corner_uvs: Floats) -> Floats:
    """(h, w, 2): the texture coordinates that each pixel sees; NaN where it sees no triangle.

    corner_uvs (t, 3, 2): of the triangles' corners, NaN for a corner without. Perspective-correct.
    """
    uvs = np.full((*raster.triangle.shape, 2), np.nan)
    covered = raster.covered
    corners, weights = corner_uvs[raster.triangle[covered]], raster.weights[covered]
    uvs[covered] = np.einsum("nk,nkc->nc", weights, corners)
    return uvs


def sampled(texture: Picture, uvs: Floats, *, smooth: bool = True) -> Picture:
    """Colours (..., 3) uint8 of a texture (h, w, 3) at coordinates (..., 2), all finite.

    The origin of the coordinates is the lower left corner of the picture, and the picture repeats outside 0..1.
    Pixel centres lie at (i + 0.5) / width. `smooth` blends the four nearest pixels, otherwise the one that holds the
    point is taken.
    """
    height, width = texture.shape[:2]
    x, y = uvs[..., 0] * width, (1.0 - uvs[..., 1]) * height
    if not smooth:
        return np.asarray(texture[np.floor(y).astype(int) % height, np.floor(x).astype(int) % width])
    x, y = x - 0.5, y - 0.5
    left, top = np.floor(x), np.floor(y)
    across, down = (place[..., None].astype(np.float32) for place in (x - left, y - top))
    columns = np.stack([left, left + 1]).astype(int) % width
    rows = np.stack([top, top + 1]).astype(int) % height
    upper = texture[rows[0], columns[0]] * (1.0 - across) + texture[rows[0], columns[1]] * across
    lower = texture[rows[1], columns[0]] * (1.0 - across) + texture[rows[1], columns[1]] * across
    return np.asarray(np.rint(upper * (1.0 - down) + lower * down), np.uint8)
