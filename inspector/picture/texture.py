"""Find the UVs at each pixel of a surface, and look up the colours of its texture."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats
from inspector.picture.canvas import Picture
from inspector.picture.raster import Raster


def seen_uvs(raster: Raster, corner_uvs: Floats) -> Floats:
    """Compute the perspective-correct UVs of the visible point at each pixel, (h, w, 2).

    Args:
        raster: The triangle that is visible at each pixel.
        corner_uvs: UVs of the triangles' corners, (t, 3, 2); NaN for a corner without a UV.

    Returns:
        The UVs; NaN where no triangle is visible, or where the visible triangle has a corner without a UV.
    """
    uvs = np.full((*raster.triangle.shape, 2), np.nan)
    covered = raster.covered
    corners, weights = corner_uvs[raster.triangle[covered]], raster.weights[covered]
    uvs[covered] = np.einsum("nk,nkc->nc", weights, corners)
    return uvs


def sampled(texture: Picture, uvs: Floats, *, smooth: bool = True) -> Picture:
    """Look up the colours of a texture at UVs, (..., 3) uint8.

    The texture repeats. Its lower left corner is the origin of UVs: the centre of column i is at u = (i + 0.5) / width.

    Args:
        texture: The texture, (h, w, 3).
        uvs: The UVs, (..., 2), all finite.
        smooth: Whether the four nearest pixels are blended; otherwise, the pixel that contains the point is used.
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
