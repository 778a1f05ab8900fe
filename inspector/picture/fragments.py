"""Find the pixels whose centres are inside triangles. The result is exact, and is computed in batches.

In a row of pixels, a triangle contains the centres from the left point at which its sides cross the row (included) to
the right point (excluded). A centre exactly at the top of a triangle is inside the triangle, and a centre exactly at
the bottom is outside. Each crossing point is computed from the upper corner of the side that crosses the row, so each
pixel on a shared side belongs to exactly one triangle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats

FRAGMENTS = 1 << 28
"""A picture is drawn pixel by pixel if all its faces, visible or not, cover at most this number of pixels together.
A pixel counts once for each face that covers it. If the faces cover more pixels, the picture is drawn in blocks of
pixels. The number is 32 times `limits.DRAWN_PIXELS`. Drawing this many pixels takes about 10 s.
"""

Counts = npt.NDArray[np.int64]

_GRID = 4096.0
"""Corners are rounded to a grid with this number of steps per pixel. On this grid, float64 can compare pixel centres
exactly with the crossings of edges and rows, in pictures of up to 8192 pixels per side. Without the rounding, a pixel
could be counted twice or not at all.
"""

_HALF = np.float64(0.5)

_BATCH = 1 << 18
"""Approximate number of pixels in a batch. The arrays of such a batch stay in the cache of the processor, and need
little memory even if many triangles overlap.
"""


@dataclass(frozen=True, eq=False)
class Flat:
    """Triangles that may contain the centre of a pixel. The corners are the first axis of the arrays, because NumPy is
    fast only along the last axis.

    Attributes:
        x: x of the corners, (3, k), in pixels, rounded to _GRID.
        y: y of the corners, (3, k), in pixels, rounded to _GRID.
        depth: Depth of the corners, (3, k).
        source: Index of each triangle among the given triangles, (k,).
    """

    x: Floats
    y: Floats
    depth: Floats
    source: Counts

    @classmethod
    def of(cls, corners: Floats, width: int, height: int) -> Flat:
        """Select the triangles whose bounding boxes contain a pixel centre. In a fine mesh, most bounding boxes contain
        none.

        Args:
            corners: Corners of the triangles, (t, 3, 3): x and y in pixels, and depth. Triangles with corners that
                aren't finite are left out.
            width: Width of the picture, in pixels.
            height: Height of the picture, in pixels.
        """
        x, y, depth = np.ascontiguousarray(corners.transpose(2, 1, 0))
        x, y = np.round(x * _GRID) / _GRID, np.round(y * _GRID) / _GRID
        finite = np.isfinite(x[0] + x[1] + x[2] + y[0] + y[1] + y[2] + depth[0] + depth[1] + depth[2])
        reaching = finite & _reaches(x, width) & _reaches(y, height)
        kept = np.flatnonzero(reaching)
        return cls(x[:, kept], y[:, kept], depth[:, kept], kept)


def block_of(corners: Floats, width: int, height: int) -> int:
    """Choose the size of the blocks in which a picture must be drawn to stay within FRAGMENTS. A block is a square of
    pixels that is drawn as if it were a single pixel.

    Args:
        corners: Corners of the triangles, (t, 3, 2 or 3), in pixels.
        width: Width of the picture, in pixels.
        height: Height of the picture, in pixels.

    Returns:
        The side of a block, in pixels; 1 if blocks are not needed.
    """
    x, y = corners[..., 0], corners[..., 1]
    with np.errstate(all="ignore"):  # corners may be extremely large or not finite
        areas = np.abs((x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])) / 2.0
    if areas.sum() <= FRAGMENTS:
        return 1
    boxes = np.ptp(np.clip(x, 0, width), axis=1) * np.ptp(np.clip(y, 0, height), axis=1)
    pixels = float(np.nan_to_num(np.fmin(boxes, areas)).sum())
    return min(math.ceil(math.sqrt(pixels / FRAGMENTS)) or 1, max(width, height))


def in_blocks(corners: Floats, block: int) -> Floats:
    """Scale the corners of triangles to a picture whose pixels represent blocks of `block` x `block` pixels.

    Args:
        corners: Corners of the triangles, (t, 3, 2 or 3): x and y in pixels, and depth, which doesn't change.
        block: Side of a block, in pixels.
    """
    return np.asarray(corners / np.array([block, block, 1][: corners.shape[-1]]))


def unblocked(picture: npt.NDArray[Any], block: int, width: int, height: int) -> npt.NDArray[Any]:
    """Enlarge a picture that was drawn in blocks, so that it has its full size.

    Args:
        picture: The picture, (h, w, ...).
        block: Side of a block, in pixels.
        width: Full width, in pixels.
        height: Full height, in pixels.
    """
    return picture.repeat(block, axis=0).repeat(block, axis=1)[:height, :width]


def _reaches(places: Floats, size: int) -> npt.NDArray[np.bool_]:
    low = np.minimum(np.minimum(places[0], places[1]), places[2])
    high = np.maximum(np.maximum(places[0], places[1]), places[2])
    return np.asarray(np.maximum(np.ceil(low - 0.5), 0.0) < np.minimum(np.ceil(high - 0.5), size))


def pixels_of(corners: Floats, width: int, height: int) -> Iterator[tuple[Counts, Counts]]:
    """Find all pixels of all triangles, visible or not.

    Args:
        corners: Corners of the triangles, (t, 3, 3): x and y in pixels, and depth.
        width: Width of the picture, in pixels.
        height: Height of the picture, in pixels.

    Yields:
        In batches: indices of pixels, counted row by row, and, for each pixel, the index of a triangle, (n,) each.
    """
    flat = Flat.of(corners, width, height)
    for pixel, triangle, _ in fragments(Prepared.of(flat, flat.depth, height), width):
        yield pixel, flat.source[triangle]


@dataclass(frozen=True, eq=False)
class Prepared:
    """Triangles that are ready to be drawn. Their corners are sorted from top to bottom, then from left to right.

    Nearness, which is linear in the picture, is the inverse of the depth or, in a parallel projection, minus the depth.

    Attributes:
        x: x of the corners, (3, t), in pixels.
        y: y of the corners, (3, t), in pixels.
        near: Nearness of the corners, (3, t).
        slope: Change of the nearness per pixel, along x and along y, (2, t).
        first_row: First row of pixels of each triangle, (t,).
        row_counts: Number of rows of pixels of each triangle, (t,); 0 for a triangle without area.
    """

    x: Floats
    y: Floats
    near: Floats
    slope: Floats
    first_row: Counts
    row_counts: Counts

    @classmethod
    def of(cls, flat: Flat, nearness: Floats, height: int) -> Prepared:
        """Sort the corners of triangles, and compute the slopes of their nearness.

        Args:
            flat: The triangles.
            nearness: Nearness of their corners, (3, k).
            height: Height of the picture, in pixels.
        """
        order = np.lexsort((flat.x, flat.y), axis=0)
        x, y, near = (np.take_along_axis(values, order, axis=0) for values in (flat.x, flat.y, nearness))
        (x1, x2), (y1, y2), (n1, n2) = (values[1:] - values[0] for values in (x, y, near))
        twice_area = x1 * y2 - x2 * y1
        empty = twice_area == 0.0
        twice_area[empty] = 1.0
        slope = np.stack([n1 * y2 - n2 * y1, n2 * x1 - n1 * x2]) / twice_area
        first = np.maximum(np.ceil(y[0] - 0.5), 0).astype(np.int64)
        stop = np.minimum(np.ceil(y[2] - 0.5), height).astype(np.int64)
        return cls(x, y, near, slope, first, np.where(empty, 0, stop - first))


def fragments(drawn: Prepared, width: int) -> Iterator[tuple[Counts, Counts, Floats]]:
    """Find the pixels inside triangles.

    Args:
        drawn: The triangles.
        width: Width of the picture, in pixels.

    Yields:
        Batches of n pairs, each of a pixel and a triangle that covers the pixel's centre: the indices of the pixels,
        the indices of the triangles, and the nearness of the triangles at the pixels' centres, (n,) each. The indices
        of the triangles are in ascending order.
    """
    for first, last in _batches(drawn.row_counts):
        triangle, row = ranges(drawn.first_row[first:last], drawn.row_counts[first:last])
        triangle += first
        start, stop = _span(drawn, triangle, row + _HALF, width)
        for head, tail in _batches(stop - start):
            span, column = ranges(start[head:tail], (stop - start)[head:tail])
            span += head
            of = triangle[span]
            yield row[span] * width + column, of, _nearness(drawn, of, column + _HALF, row[span] + _HALF)


def _batches(counts: Counts) -> Iterator[tuple[int, int]]:
    """Split an array of counts into ranges, and yield the start and the stop index of each range. The counts of a range
    add up to at most _BATCH, unless the range has only one count.
    """
    ends = np.cumsum(counts)
    first = 0
    while first < len(counts):
        before = ends[first - 1] if first else 0
        last = max(int(np.searchsorted(ends, before + _BATCH, "right")), first + 1)
        yield first, last
        first = last


def _span(drawn: Prepared, triangle: Counts, y: Floats, width: int) -> tuple[Counts, Counts]:
    """Find the columns of pixels inside triangles, in the rows at the heights y.

    Args:
        drawn: The triangles.
        triangle: Index of a triangle for each row, (n,).
        y: y of the centre of each row, (n,), in pixels.
        width: Width of the picture, in pixels.

    Returns:
        The first column inside the triangle, and the first column after it, (n,) each.
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
    """List the numbers of several ranges, one range after another.

    Args:
        starts: First number of each range, (k,).
        counts: Length of each range, (k,).

    Returns:
        For each number, the index of its range, and the number itself, (n,) each.
    """
    which = np.repeat(np.arange(len(counts)), counts)
    offset = starts - (np.cumsum(counts) - counts)
    return which, np.arange(len(which)) + offset[which]


def _nearness(drawn: Prepared, triangle: Counts, x: Floats, y: Floats) -> Floats:
    right = (x - drawn.x[0, triangle]) * drawn.slope[0, triangle]
    down = (y - drawn.y[0, triangle]) * drawn.slope[1, triangle]
    return np.asarray(drawn.near[0, triangle] + right + down)
