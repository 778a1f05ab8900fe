"""Which triangle is seen in which pixel, how far away, and where on the triangle.

A z-buffer: of the triangles on a pixel's centre (`inspector.picture.fragments`) the nearest is seen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.picture.fragments import Counts, Prepared, fragments, on_grid, reaching_a_centre, row_batches

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int32]

NONE = -1
"""In `Raster.triangle`: no triangle is seen here."""


@dataclass(frozen=True, eq=False)
class Raster:
    """What each pixel sees.

    triangle (h, w) int32: index of the nearest triangle, NONE without any; the lower index of two at the same depth.
    depth (h, w) float64: along the line of sight, scene units; infinity without any.
    weights (h, w, 3) float64: of the triangle's corners at the pixel's centre, perspective-correct, sum 1; 0 without.
    """

    triangle: Indices
    depth: Floats
    weights: Floats

    @property
    def covered(self) -> npt.NDArray[np.bool_]:
        """(h, w): whether any triangle is seen."""
        return np.not_equal(self.triangle, NONE)


def rasterise(corners: Floats, width: int, height: int, *, perspective: bool = True) -> Raster:
    """Draw triangles into a z-buffer of width x height pixels.

    corners (t, 3, 3) float64: x and y in pixels, y downward, and depth, positive with perspective (cut at the near
    plane first, see `view`). Orientation doesn't matter. Triangles with a corner that isn't finite are left out, and
    so are those without area.
    """
    grid = on_grid(corners)
    kept = reaching_a_centre(grid, corners[..., 2], width, height)
    nearness = 1.0 / corners[kept, :, 2] if perspective else -corners[kept, :, 2]
    owner = _owners(Prepared.of(grid[kept], nearness, height), width, height)
    seen = np.flatnonzero(owner != NONE)
    source = kept[owner[seen]]
    shares = _weights(grid[source], nearness[owner[seen]], seen, width, perspective)
    raster = Raster(
        triangle=np.full((height, width), NONE, np.int32),
        depth=np.full((height, width), np.inf),
        weights=np.zeros((height, width, 3)),
    )
    raster.triangle.reshape(-1)[seen] = source
    raster.depth.reshape(-1)[seen] = (shares * corners[source, :, 2]).sum(axis=1)
    raster.weights.reshape(-1, 3)[seen] = shares
    return raster


def _owners(drawn: Prepared, width: int, height: int) -> Indices:
    """The z-buffer: the nearest triangle of each pixel, (width * height,), NONE without any."""
    nearest = np.full(width * height, -np.inf)
    owner: Indices = np.full(width * height, NONE, np.int32)
    for first, last in row_batches(drawn.row_counts):
        for pixel, triangle, near in fragments(drawn, first, last, width):
            _keep_nearest(nearest, owner, pixel, triangle, near)
    return owner


def _keep_nearest(nearest: Floats, owner: Indices, pixel: Counts, triangle: Counts, near: Floats) -> None:
    """Triangles come in rising order, so that of two at the same depth the lower one keeps the pixel."""
    ahead = near > nearest[pixel]
    pixel, triangle, near = pixel[ahead], triangle[ahead], near[ahead]
    np.maximum.at(nearest, pixel, near)
    won = np.flatnonzero(near == nearest[pixel])[::-1]
    owner[pixel[won]] = triangle[won]


def _weights(grid: Floats, nearness: Floats, pixel: Counts, width: int, perspective: bool) -> Floats:
    """Of the corners at the pixels' centres: shares of area in the picture, then divided by depth (Heckbert 1989,
    "Fundamentals of texture mapping and image warping", section 3: attributes over depth are linear in the picture)."""
    (x1, x2), (y1, y2) = (grid[:, 1:] - grid[:, :1]).transpose(2, 1, 0)
    x = pixel % width + 0.5 - grid[:, 0, 0]
    y = pixel // width + 0.5 - grid[:, 0, 1]
    twice_area = x1 * y2 - x2 * y1
    one, two = (x * y2 - x2 * y) / twice_area, (x1 * y - x * y1) / twice_area
    weights = np.clip(np.stack([1.0 - one - two, one, two], axis=1), 0.0, None)
    if perspective:
        weights *= nearness
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))
