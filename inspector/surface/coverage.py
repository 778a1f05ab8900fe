"""Which cells of a grid over the texture are covered by triangles, or touched by them at all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats, Indices

_CELL_RIM = 1e-9
"""Share of a grid cell that a triangle must reach into to touch it, and by which it may miss a centre that is on its
side: far above rounding, far below what is seen."""

CELLS_TRIED = 1 << 19
"""Cells tried against triangles together. Keeps temporaries at some tens of megabytes."""

CELLS_AT_MOST = 1 << 26
"""Cells tried against all triangles of one grid, about 3 s; a surface that covers its texture ten times needs a tenth.
Beyond, the grid is coarser: only thousands of faces that each cover the whole texture reach it."""


@dataclass(frozen=True, slots=True)
class Grid:
    """rows x columns cells over the box of UV from (u, v) = (left, bottom) to (right, top); row 0 is the lowest."""

    left: float
    bottom: float
    right: float
    top: float
    rows: int
    columns: int

    def in_cells(self, uv: Floats) -> Floats:
        """UV (..., 2) -> columns and rows, a cell being 1 wide."""
        width, height = self.right - self.left, self.top - self.bottom
        scale = np.array([self.columns / width, self.rows / height])
        cells: Floats = (uv - np.array([self.left, self.bottom])) * scale
        return cells


@dataclass(frozen=True, slots=True, eq=False)
class Hits:
    """Pairs of a triangle and a cell that it covers: triangle (h,), row (h,), column (h,)."""

    triangle: Indices
    row: Indices
    column: Indices


def affordable(uv: Floats, box: tuple[float, float, float, float], cells: int) -> int:
    """Cells along each side of a grid over `box`, `cells` of them or that halved until triangles uv (t, 3, 2), finite,
    need no more than CELLS_AT_MOST tries."""
    sides = np.ptp(uv, axis=1) / np.subtract(box[2:], box[:2])
    while cells > 1 and float((sides * cells + 1.0).prod(axis=1).sum()) > CELLS_AT_MOST:
        cells //= 2
    return cells


def covered(uv: Floats, grid: Grid, *, repeated: bool = False) -> Iterator[Hits]:
    """Cells whose centre lies in a triangle or on its rim, for triangles uv (t, 3, 2), finite, a batch at a time.

    A centre on a side that two triangles share belongs to both, so that rounding loses none.
    repeated: the grid's box goes on in all directions, as a texture does, and UVs outside it fall on its cells.
    """
    hits = _hits(grid.in_cells(uv), _CELL_RIM, None if repeated else grid)
    return (Hits(hit.triangle, hit.row % grid.rows, hit.column % grid.columns) for hit in hits) if repeated else hits


def touched(uv: Floats, grid: Grid) -> Iterator[Hits]:
    """Cells of which a triangle uv (t, 3, 2) reaches the inside, also one without area, which stands for a line.

    A cell and a triangle are apart exactly if one of their sides parts them (separating axes); so an edge function
    at the cell's nearest corner decides, as in Akenine-Möller and Aila 2005, "Conservative and Tiled Rasterization
    Using a Modified Triangle Setup".
    """
    return _hits(grid.in_cells(uv), 0.5 - _CELL_RIM, grid)


def _hits(cells: Floats, reach: float, grid: Grid | None) -> Iterator[Hits]:
    """reach: how far from its centre a cell begins, in cells; grid: where cells end, None for nowhere."""
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
    """Try every cell of each triangle's box against its three sides."""
    count = columns * rows
    which = np.repeat(np.arange(len(cells)), count)
    place = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    column, row = low[which, 0] + place % columns[which], low[which, 1] + place // columns[which]
    inside: Flags = np.ones(len(which), bool)
    for corner in range(3):
        start, along = cells[:, corner], cells[:, (corner + 1) % 3] - cells[:, corner]
        margin = reach * np.abs(along).sum(axis=1)
        # the side's edge function at a cell's centre, as a plane over columns and rows
        constant = margin + along[:, 1] * (start[:, 0] - 0.5) - along[:, 0] * (start[:, 1] - 0.5)
        inside &= constant[which] + along[which, 0] * row - along[which, 1] * column >= 0.0
    return Hits(which[inside] + first, row[inside], column[inside])
