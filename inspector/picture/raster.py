"""Which triangle is seen in which pixel, how far away, and where on the triangle.

A pixel belongs to a triangle if its centre lies inside. The edges are half open (left and top ones belong to the
triangle, right and bottom ones don't), so a pixel of a shared edge belongs to exactly one of its triangles.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int32]
Counts = npt.NDArray[np.int64]

NONE = -1
"""In `Raster.triangle`: no triangle is seen here."""

_GRID = 4096.0
"""Corners are rounded to this part of a pixel. On a grid, the crossing of an edge and a row is compared with pixel
centres exactly in float64 up to pictures of 8192 pixels; off it, rounding could count a pixel twice or not at all."""

_HALF = np.float64(0.5)

_BATCH = 1 << 18
"""Pixels tried at a time: keeps the temporaries within the cache and memory bounded however deep the triangles lie."""


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
    grid = np.round(corners[..., :2] * _GRID) / _GRID
    kept = _reaching_a_centre(grid, corners[..., 2], width, height)
    nearness = 1.0 / corners[kept, :, 2] if perspective else -corners[kept, :, 2]
    owner = _owners(_Prepared.of(grid[kept], nearness, height), width, height)
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


def pixels_of(corners: Floats, width: int, height: int) -> Iterator[tuple[Counts, Counts]]:
    """All pixels of all triangles, seen or not: index of the pixel, row by row, and of the triangle, a batch at a time.

    corners (t, 3, 3) as for `rasterise`.
    """
    grid = np.round(corners[..., :2] * _GRID) / _GRID
    kept = _reaching_a_centre(grid, corners[..., 2], width, height)
    drawn = _Prepared.of(grid[kept], corners[kept, :, 2], height)
    for first, last in _row_batches(drawn.row_counts):
        for pixel, triangle, _ in _fragments(drawn, first, last, width):
            yield pixel, kept[triangle]


def _reaching_a_centre(grid: Floats, depth: Floats, width: int, height: int) -> Counts:
    """Triangles whose box holds the centre of a pixel of the picture; most of a fine mesh's don't."""
    low, high = grid.min(axis=1), grid.max(axis=1)
    size = np.array([width, height])
    with np.errstate(invalid="ignore"):
        first, stop = np.ceil(low - 0.5), np.ceil(high - 0.5)
        reaches = (np.maximum(first, 0) < np.minimum(stop, size)).all(axis=1)
    return np.flatnonzero(reaches & np.isfinite(depth).all(axis=1) & np.isfinite(low + high).all(axis=1))


@dataclass(frozen=True, eq=False)
class _Prepared:
    """Triangles ready for drawing, corners sorted from top to bottom (then left to right).

    x, y, near (3, t): corners; slope (2, t): of nearness by x and y, constant over the triangle, for nearness (the
    inverse of depth, or minus depth) is linear in the picture; first_row, row_counts (t,).
    """

    x: Floats
    y: Floats
    near: Floats
    slope: Floats
    first_row: Counts
    row_counts: Counts

    @classmethod
    def of(cls, grid: Floats, nearness: Floats, height: int) -> _Prepared:
        order = np.lexsort((grid[..., 0], grid[..., 1]), axis=1)
        rows = np.arange(len(grid))[:, None]
        x, y = grid[rows, order, 0].T.copy(), grid[rows, order, 1].T.copy()
        near = nearness[rows, order].T.copy()
        (x1, x2), (y1, y2), (n1, n2) = (values[1:] - values[0] for values in (x, y, near))
        twice_area = x1 * y2 - x2 * y1
        flat = twice_area == 0.0
        twice_area[flat] = 1.0
        slope = np.stack([n1 * y2 - n2 * y1, n2 * x1 - n1 * x2]) / twice_area
        first = np.maximum(np.ceil(y[0] - 0.5), 0).astype(np.int64)
        stop = np.minimum(np.ceil(y[2] - 0.5), height).astype(np.int64)
        return cls(x, y, near, slope, first, np.where(flat, 0, stop - first))


def _owners(drawn: _Prepared, width: int, height: int) -> Indices:
    """The z-buffer: the nearest triangle of each pixel, (width * height,), NONE without any."""
    nearest = np.full(width * height, -np.inf)
    owner: Indices = np.full(width * height, NONE, np.int32)
    for first, last in _row_batches(drawn.row_counts):
        for pixel, triangle, near in _fragments(drawn, first, last, width):
            _keep_nearest(nearest, owner, pixel, triangle, near)
    return owner


def _row_batches(row_counts: Counts) -> Iterator[tuple[int, int]]:
    """Ranges of triangles that have about _BATCH rows together."""
    ends = np.cumsum(row_counts)
    first = 0
    while first < len(row_counts):
        before = ends[first - 1] if first else 0
        last = max(int(np.searchsorted(ends, before + _BATCH, "right")), first + 1)
        yield first, last
        first = last


def _fragments(drawn: _Prepared, first: int, last: int, width: int) -> Iterator[tuple[Counts, Counts, Floats]]:
    """The pixels inside triangles first..last: index of the pixel, of the triangle, and nearness; (n,) each."""
    triangle, row = ranges(drawn.first_row[first:last], drawn.row_counts[first:last])
    triangle += first
    start, stop = _span(drawn, triangle, row + _HALF, width)
    ends = np.cumsum(stop - start)
    cut = 0
    while cut < len(ends):
        before = ends[cut - 1] if cut else 0
        end = max(int(np.searchsorted(ends, before + _BATCH, "right")), cut + 1)
        span, column = ranges(start[cut:end], (stop - start)[cut:end])
        span += cut
        of = triangle[span]
        yield row[span] * width + column, of, _nearness(drawn, of, column + _HALF, row[span] + _HALF)
        cut = end


def _span(drawn: _Prepared, triangle: Counts, y: Floats, width: int) -> tuple[Counts, Counts]:
    """First column inside and first column behind, per row at height y.

    An edge's crossing is worked out from its upper corner in both its triangles, so both get the same number.
    """
    x, corner_y = drawn.x[:, triangle], drawn.y[:, triangle]
    long = x[0] + (y - corner_y[0]) * (x[2] - x[0]) / (corner_y[2] - corner_y[0])
    upper = y < corner_y[1]
    top_x, top_y = np.where(upper, x[0], x[1]), np.where(upper, corner_y[0], corner_y[1])
    end_x, end_y = np.where(upper, x[1], x[2]), np.where(upper, corner_y[1], corner_y[2])
    short = top_x + (y - top_y) * (end_x - top_x) / (end_y - top_y)
    ends = np.ceil(np.stack([np.minimum(long, short), np.maximum(long, short)]) - 0.5)
    start, stop = np.clip(ends, 0, width).astype(np.int64)
    return start, stop


def ranges(starts: Counts, counts: Counts) -> tuple[Counts, Counts]:
    """All numbers start..start + count of each range in turn, and before them which range each comes from."""
    which = np.repeat(np.arange(len(counts)), counts)
    offset = starts - (np.cumsum(counts) - counts)
    return which, np.arange(len(which)) + offset[which]


def _nearness(drawn: _Prepared, triangle: Counts, x: Floats, y: Floats) -> Floats:
    right = (x - drawn.x[0, triangle]) * drawn.slope[0, triangle]
    down = (y - drawn.y[0, triangle]) * drawn.slope[1, triangle]
    return np.asarray(drawn.near[0, triangle] + right + down)


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
