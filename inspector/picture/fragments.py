"""Triangles to pixels: which pixels' centres lie in which triangles, exactly and a batch at a time.

A triangle holds, in each row of pixels, the centres between the crossings of two of its sides. A crossing is worked
out from the side's upper corner, so both triangles on a side get the same number; and the left end belongs to the
triangle, the right end doesn't (likewise top and bottom). So each pixel of a shared side goes to exactly one of them.
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
"""Pixels of all faces of one picture, visible or not, about 10 s: 32 layers over the whole of `limits.DRAWN_PIXELS`.
Beyond, the picture is drawn in blocks of several pixels, which is reported: only thousands of large faces on each other
reach it."""

Counts = npt.NDArray[np.int64]

_GRID = 4096.0
"""Corners are rounded to this part of a pixel. On a grid, the crossing of an edge and a row is compared with pixel
centres exactly in float64 up to pictures of 8192 pixels; off it, rounding could count a pixel twice or not at all."""

_HALF = np.float64(0.5)

_BATCH = 1 << 18
"""Pixels tried at a time: keeps the temporaries within the cache and memory bounded however deep the triangles lie."""


@dataclass(frozen=True, eq=False)
class Flat:
    """Triangles that may hold a pixel's centre: x, y, depth (3, k) of their corners, x and y rounded to _GRID; source
    (k,): which of the triangles given each one is. Held by corner, for NumPy is fast along the last axis only.
    """

    x: Floats
    y: Floats
    depth: Floats
    source: Counts

    @classmethod
    def of(cls, corners: Floats, width: int, height: int) -> Flat:
        """Of corners (t, 3, 3), without those whose box holds no pixel's centre: most of a fine mesh's do not."""
        x, y, depth = np.ascontiguousarray(corners.transpose(2, 1, 0))
        x, y = np.round(x * _GRID) / _GRID, np.round(y * _GRID) / _GRID
        finite = np.isfinite(x[0] + x[1] + x[2] + y[0] + y[1] + y[2] + depth[0] + depth[1] + depth[2])
        reaching = finite & _reaches(x, width) & _reaches(y, height)
        kept = np.flatnonzero(reaching)
        return cls(x[:, kept], y[:, kept], depth[:, kept], kept)


def block_of(corners: Floats, width: int, height: int) -> int:
    """Side of the blocks of pixels in which triangles (t, 3, 2 or 3) are drawn so that no more than FRAGMENTS
    are worked on: 1 for all but hostile ones."""
    x, y = corners[..., 0], corners[..., 1]
    with np.errstate(all="ignore"):  # corners anywhere, also nowhere
        areas = np.abs((x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])) / 2.0
    if areas.sum() <= FRAGMENTS:
        return 1
    boxes = np.ptp(np.clip(x, 0, width), axis=1) * np.ptp(np.clip(y, 0, height), axis=1)
    pixels = float(np.nan_to_num(np.fmin(boxes, areas)).sum())
    return min(math.ceil(math.sqrt(pixels / FRAGMENTS)) or 1, max(width, height))


def in_blocks(corners: Floats, block: int) -> Floats:
    """The corners of triangles (t, 3, 2 or 3) in a picture of which each pixel stands for block x block."""
    return np.asarray(corners / np.array([block, block, 1][: corners.shape[-1]]))


def unblocked(picture: npt.NDArray[Any], block: int, width: int, height: int) -> npt.NDArray[Any]:
    """A picture (h, w, ...) drawn in blocks, at the full size."""
    return picture.repeat(block, axis=0).repeat(block, axis=1)[:height, :width]


def _reaches(places: Floats, size: int) -> npt.NDArray[np.bool_]:
    low = np.minimum(np.minimum(places[0], places[1]), places[2])
    high = np.maximum(np.maximum(places[0], places[1]), places[2])
    return np.asarray(np.maximum(np.ceil(low - 0.5), 0.0) < np.minimum(np.ceil(high - 0.5), size))


def pixels_of(corners: Floats, width: int, height: int) -> Iterator[tuple[Counts, Counts]]:
    """All pixels of all triangles, seen or not: index of the pixel, row by row, and of the triangle, a batch at a time.

    corners (t, 3, 3) as for `rasterise`.
    """
    flat = Flat.of(corners, width, height)
    for pixel, triangle, _ in fragments(Prepared.of(flat, flat.depth, height), width):
        yield pixel, flat.source[triangle]


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
    def of(cls, flat: Flat, nearness: Floats, height: int) -> Prepared:
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
    """The pixels inside the triangles: index of the pixel, of the triangle (rising), and nearness; (n,) each."""
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
    """Ranges of entries that count about _BATCH together."""
    ends = np.cumsum(counts)
    first = 0
    while first < len(counts):
        before = ends[first - 1] if first else 0
        last = max(int(np.searchsorted(ends, before + _BATCH, "right")), first + 1)
        yield first, last
        first = last


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
