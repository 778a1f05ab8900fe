"""The largest upright rectangle of the texture in which lettering is safe."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats
from inspector.surface.coverage import Grid, affordable, covered, touched


@dataclass(frozen=True, slots=True)
class Rectangle:
    """An upright rectangle in UV, left < right and bottom < top."""

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


def safe_cells(uv: Floats, good: Flags, outline: Floats, grid: Grid) -> Flags:
    """(rows, columns): cells that lie wholly in good triangles.

    uv (t, 3, 2): the island's triangles; good (t,); outline (o, 2, 2): the island's outer sides. A cell is safe if a
    good triangle has its centre and neither a bad triangle nor the outline reaches into it.
    """
    safe = np.zeros((grid.rows, grid.columns), bool)
    for hits in covered(uv[good], grid):
        safe[hits.row, hits.column] = True
    lines = np.concatenate([outline, outline[:, 1:]], axis=1)
    for hits in touched(np.concatenate([uv[~good], lines]), grid):
        safe[hits.row, hits.column] = False
    return safe


def largest_rectangle(cells: Flags) -> tuple[int, int, int, int] | None:
    """The largest rectangle of true cells: first row, first column, row after the last, column after the last.

    Of equals the one that ends lowest, then leftmost; None if no cell is true. A largest rectangle is as high as the
    true cells in one of its columns up to its last row, and reaches as far left and right as all rows of that height
    do; both are known from the row before (common practice, no source).
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
    """The largest upright rectangle in UV within good triangles; None where no cell of the grid is safe.

    Arguments as for `safe_cells`; the island's box is divided into cells x cells. The rectangle found reaches into
    nothing bad; no side of the largest there is goes further by a whole cell on each end, so a true width w and
    height h are found as at least w - 2 / cells and h - 2 / cells of the box's sides, or a larger area elsewhere.
    """
    low, high = uv.reshape(-1, 2).min(axis=0), uv.reshape(-1, 2).max(axis=0)
    if not (high > low).all():
        return None
    box = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    cells = affordable(uv, box, cells)
    grid = Grid(*box, cells, cells)
    found = largest_rectangle(safe_cells(uv, good, outline, grid))
    if found is None:
        return None
    step = (high - low) / cells
    (bottom, left), (top, right) = np.array(found).reshape(2, 2).tolist()
    return Rectangle(
        *(low + step * [left, bottom]).tolist(),
        *(low + step * [right, top]).tolist(),
    )
