"""Find the largest rectangle of the texture in which lettering is safe."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats
from inspector.surface.coverage import CellGrid, affordable, covered, touched


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A rectangle in UV, with sides parallel to u and v.

    Attributes:
        left: Smallest u.
        bottom: Smallest v.
        right: Largest u.
        top: Largest v.
    """

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.top - self.bottom


def safe_cells(uv: Floats, good: Flags, outline: Floats, grid: CellGrid) -> Flags:
    """Find the cells that are completely within good triangles.

    Args:
        uv: The island's triangles, (t, 3, 2).
        good: Whether each triangle is good, (t,).
        outline: The sides on the boundary of the island, (o, 2, 2).
        grid: The cells.

    Returns:
        A flag for each cell, (rows, columns).
    """
    safe = np.zeros((grid.rows, grid.columns), bool)
    for hits in covered(uv[good], grid):
        safe[hits.row, hits.column] = True
    lines = np.concatenate([outline, outline[:, 1:]], axis=1)
    for hits in touched(np.concatenate([uv[~good], lines]), grid):
        safe[hits.row, hits.column] = False
    return safe


def largest_rectangle(cells: Flags) -> tuple[int, int, int, int] | None:
    """Find the largest rectangle of true cells. The algorithm is common practice (no source).

    Args:
        cells: The cells, (rows, columns).

    Returns:
        The first row, the first column, the row after the last row, and the column after the last column; None if no
        cell is true. Of equally large rectangles, one whose last row has the lowest index is chosen.
    """
    best: tuple[int, int, int, int] | None = None
    most = 0
    count = cells.shape[1]
    column = np.arange(count)
    height, left, right = np.zeros(count, np.int64), np.zeros(count, np.int64), np.full(count, count)
    for row, line in enumerate(cells):
        height = np.where(line, height + 1, 0)
        gap_before = np.maximum.accumulate(np.where(line, 0, column + 1))
        gap_after = np.minimum.accumulate(np.where(line, count, column)[::-1])[::-1]
        left = np.where(line, np.maximum(left, gap_before), 0)
        right = np.where(line, np.minimum(right, gap_after), count)
        area = height * (right - left)
        at = int(area.argmax()) if count else 0
        if count and area[at] > most:
            most = int(area[at])
            best = row + 1 - int(height[at]), int(left[at]), row + 1, int(right[at])
    return best


def safe_rectangle(uv: Floats, good: Flags, outline: Floats, cells: int) -> Rectangle | None:
    """Find a large rectangle within good triangles.

    If the largest such rectangle has width w and height h, as fractions of the sides of the island's bounding box, the
    area of the result is at least (w - 2 / cells) (h - 2 / cells).

    Args:
        uv: The island's triangles, (t, 3, 2), all finite.
        good: Whether each triangle is good, (t,).
        outline: The sides on the boundary of the island, (o, 2, 2).
        cells: Number of grid cells along each side of the bounding box. It may be reduced (see `affordable`).

    Returns:
        The rectangle; None if no cell of the grid is safe, or the bounding box has no area.
    """
    low, high = uv.reshape(-1, 2).min(axis=0), uv.reshape(-1, 2).max(axis=0)
    if not (high > low).all():
        return None
    box = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    cells = affordable(uv, box, cells)
    grid = CellGrid(*box, cells, cells)
    found = largest_rectangle(safe_cells(uv, good, outline, grid))
    if found is None:
        return None
    step = (high - low) / cells
    (bottom, left), (top, right) = np.array(found).reshape(2, 2).tolist()
    return Rectangle(
        *(low + step * [left, bottom]).tolist(),
        *(low + step * [right, top]).tolist(),
    )
