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

    Of equals the one that ends lowest, then leftmost; None if no cell is true. Row by row, heights of columns of true
    cells are a histogram, and a stack of rising heights finds its largest rectangle in one pass (common practice,
    no source).
    """
    best: tuple[int, int, int, int] | None = None
    most = 0
    heights = np.zeros(cells.shape[1] + 1, np.int64)  # a last column of height 0 empties the stack
    for row, line in enumerate(cells):
        heights[:-1] = np.where(line, heights[:-1] + 1, 0)
        rising: list[tuple[int, int]] = []
        for column, height in enumerate(heights.tolist()):
            start = column
            while rising and rising[-1][1] >= height:
                start, tall = rising.pop()
                if tall * (column - start) > most:
                    most = tall * (column - start)
                    best = row - tall + 1, start, row + 1, column
            rising.append((start, height))
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
