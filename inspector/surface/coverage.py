"""Find the cells that triangles cover or touch, in a grid over the texture."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats, Indices

_CELL_RIM = 1e-9
"""Tolerance, as a fraction of a cell's side. A triangle counts as touching a cell only if it extends into the cell by
more than the tolerance. A triangle counts as covering the centre of a cell even if it misses the centre by less than
the tolerance."""

CELLS_TRIED = 1 << 19
"""Maximum number of cell-triangle pairs to test in one batch, unless a single triangle has more."""

CELLS_AT_MOST = 1 << 26
"""Maximum number of cell-triangle pairs to test for one grid (about 3 s). A grid that needs more is made coarser."""


@dataclass(frozen=True, slots=True)
class CellGrid:
    """A grid of cells over a box in UV.

    Attributes:
        left: Smallest u.
        bottom: Smallest v.
        right: Largest u.
        top: Largest v.
        rows: Number of rows. Row 0 is at the bottom.
        columns: Number of columns. Column 0 is at the left.
    """

    left: float
    bottom: float
    right: float
    top: float
    rows: int
    columns: int

    def in_cells(self, uv: Floats) -> Floats:
        """Convert UVs, (..., 2), to columns and rows of the grid, including fractions of a cell, (..., 2)."""
        width, height = self.right - self.left, self.top - self.bottom
        scale = np.array([self.columns / width, self.rows / height])
        cells: Floats = (uv - np.array([self.left, self.bottom])) * scale
        return cells


@dataclass(frozen=True, slots=True, eq=False)
class Hits:
    """Pairs of a triangle and a cell that the triangle covers or touches.

    Attributes:
        triangle: Index of each pair's triangle, (h,).
        row: Row of each pair's cell, (h,).
        column: Column of each pair's cell, (h,).
    """

    triangle: Indices
    row: Indices
    column: Indices


def affordable(uv: Floats, box: tuple[float, float, float, float], cells: int) -> int:
    """Return the number of cells along each side: `cells`, halved until at most CELLS_AT_MOST cell-triangle pairs have
    to be tested.

    Args:
        uv: The triangles, (t, 3, 2), all finite.
        box: Left, bottom, right and top of the grid.
        cells: Requested number of cells along each side.
    """
    sides = np.ptp(uv, axis=1) / np.subtract(box[2:], box[:2])
    while cells > 1 and float((sides * cells + 1.0).prod(axis=1).sum()) > CELLS_AT_MOST:
        cells //= 2
    return cells


def covered(uv: Floats, grid: CellGrid, *, repeated: bool = False) -> Iterator[Hits]:
    """Find the cells whose centre is in a triangle or on its boundary.

    A centre on a side that two triangles share counts as being in both triangles, so that no centre is lost to rounding
    errors.

    Args:
        uv: The triangles, (t, 3, 2), all finite.
        grid: The cells.
        repeated: Whether the grid repeats in all directions, as a texture does. If so, UVs outside the grid are wrapped
            into it.

    Yields:
        The pairs of triangles and cells, in batches.
    """
    hits = _hits(grid.in_cells(uv), _CELL_RIM, None if repeated else grid)
    return (Hits(hit.triangle, hit.row % grid.rows, hit.column % grid.columns) for hit in hits) if repeated else hits


def touched(uv: Floats, grid: CellGrid) -> Iterator[Hits]:
    """Find the cells whose interior overlaps a triangle. A triangle without area counts as a line.

    The edge functions are evaluated at the nearest corner of the cell (Akenine-Möller and Aila 2005, "Conservative and
    Tiled Rasterization Using a Modified Triangle Setup").

    Args:
        uv: The triangles, (t, 3, 2), all finite.
        grid: The cells.

    Yields:
        The pairs of triangles and cells, in batches.
    """
    return _hits(grid.in_cells(uv), 0.5 - _CELL_RIM, grid)


def _hits(cells: Floats, reach: float, grid: CellGrid | None) -> Iterator[Hits]:
    """Find the cells that triangles, (t, 3, 2), overlap. A cell extends by `reach` from its centre in each direction.
    All lengths are in cells. Without a grid, cells cover the whole plane."""
    cells = _counter_clockwise(cells)
    low = np.ceil(cells.min(axis=1) - 0.5 - reach)
    high = np.floor(cells.max(axis=1) - 0.5 + reach)
    if grid is not None:
        last = (grid.columns - 1, grid.rows - 1)
        low, high = np.clip(low, 0, np.add(last, 1)), np.clip(high, -1, last)
    columns, rows = np.maximum(high - low + 1, 0).astype(np.int64).T
    low = low.astype(np.int64)
    tries = np.cumsum(columns * rows)
    start = 0
    while start < len(cells):
        before = int(tries[start - 1]) if start else 0
        stop = max(start + 1, int(np.searchsorted(tries, before + CELLS_TRIED, side="right")))
        batch = slice(start, stop)
        yield _batch(cells[batch], low[batch], columns[batch], rows[batch], start, reach)
        start = stop


def _counter_clockwise(cells: Floats) -> Floats:
    first, second = cells[:, 1] - cells[:, 0], cells[:, 2] - cells[:, 0]
    clockwise = first[:, 0] * second[:, 1] < first[:, 1] * second[:, 0]
    return np.where(clockwise[:, None, None], cells[:, ::-1], cells)


def _batch(cells: Floats, low: Indices, columns: Indices, rows: Indices, first: int, reach: float) -> Hits:
    """Test every cell in each triangle's bounding box against the triangle's three sides."""
    count = columns * rows
    which = np.repeat(np.arange(len(cells)), count)
    place = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    column, row = low[which, 0] + place % columns[which], low[which, 1] + place // columns[which]
    inside: Flags = np.ones(len(which), bool)
    for corner in range(3):
        start, along = cells[:, corner], cells[:, (corner + 1) % 3] - cells[:, corner]
        margin = reach * np.abs(along).sum(axis=1)
        # the edge function of the side at the centre of a cell, as a plane over columns and rows
        constant = margin + along[:, 1] * (start[:, 0] - 0.5) - along[:, 0] * (start[:, 1] - 0.5)
        inside &= constant[which] + along[which, 0] * row - along[which, 1] * column >= 0.0
    return Hits(which[inside] + first, row[inside], column[inside])
