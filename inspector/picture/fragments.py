"""Triangles to pixels: which pixels' centres lie in which triangles, exactly and a batch at a time.

A triangle holds, in each row of pixels, the centres between the crossings of two of its sides. A crossing is worked
out from the side's upper corner, so both triangles on a side get the same number; and the left end belongs to the
triangle, the right end doesn't (likewise top and bottom). So each pixel of a shared side goes to exactly one of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]

_GRID = 4096.0
"""Corners are rounded to this part of a pixel. On a grid, the crossing of an edge and a row is compared with pixel
centres exactly in float64 up to pictures of 8192 pixels; off it, rounding could count a pixel twice or not at all."""

_HALF = np.float64(0.5)

_BATCH = 1 << 18
"""Pixels tried at a time: keeps the temporaries within the cache and memory bounded however deep the triangles lie."""


def on_grid(corners: Floats) -> Floats:
    """(t, 3, 2): x and y of corners (t, 3, 3), rounded to _GRID."""
    return np.asarray(np.round(corners[..., :2] * _GRID) / _GRID)


def pixels_of(corners: Floats, width: int, height: int) -> Iterator[tuple[Counts, Counts]]:
    """All pixels of all triangles, seen or not: index of the pixel, row by row, and of the triangle, a batch at a time.

    corners (t, 3, 3) as for `rasterise`.
    """
    grid = on_grid(corners)
    kept = reaching_a_centre(grid, corners[..., 2], width, height)
    drawn = Prepared.of(grid[kept], corners[kept, :, 2], height)
    for first, last in row_batches(drawn.row_counts):
        for pixel, triangle, _ in fragments(drawn, first, last, width):
            yield pixel, kept[triangle]


def reaching_a_centre(grid: Floats, depth: Floats, width: int, height: int) -> Counts:
    """Triangles whose box holds the centre of a pixel of the picture; most of a fine mesh's don't."""
    low, high = grid.min(axis=1), grid.max(axis=1)
    size = np.array([width, height])
    with np.errstate(invalid="ignore"):
        first, stop = np.ceil(low - 0.5), np.ceil(high - 0.5)
        reaches = (np.maximum(first, 0) < np.minimum(stop, size)).all(axis=1)
    return np.flatnonzero(reaches & np.isfinite(depth).all(axis=1) & np.isfinite(low + high).all(axis=1))


@dataclass(frozen=True, eq=False)
class Prepared:
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
    def of(cls, grid: Floats, nearness: Floats, height: int) -> Prepared:
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


def row_batches(row_counts: Counts) -> Iterator[tuple[int, int]]:
    """Ranges of triangles that have about _BATCH rows together."""
    ends = np.cumsum(row_counts)
    first = 0
    while first < len(row_counts):
        before = ends[first - 1] if first else 0
        last = max(int(np.searchsorted(ends, before + _BATCH, "right")), first + 1)
        yield first, last
        first = last


def fragments(drawn: Prepared, first: int, last: int, width: int) -> Iterator[tuple[Counts, Counts, Floats]]:
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


def _span(drawn: Prepared, triangle: Counts, y: Floats, width: int) -> tuple[Counts, Counts]:
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


def _nearness(drawn: Prepared, triangle: Counts, x: Floats, y: Floats) -> Floats:
    right = (x - drawn.x[0, triangle]) * drawn.slope[0, triangle]
    down = (y - drawn.y[0, triangle]) * drawn.slope[1, triangle]
    return np.asarray(drawn.near[0, triangle] + right + down)
