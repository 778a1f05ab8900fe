"""Where on the surface a point of the texture lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.surface.coverage import Grid, covered
from inspector.surface.lettering_box import Rectangle


@dataclass(frozen=True, eq=False)
class Samples:
    """Points of a grid over a rectangle of the texture that lie on the surface, and how many there are in all.

    triangle (s,): of the triangles searched; weights (s, 3): of its corners, sum 1; cell (s,): of the grid, counted row
    by row from the lower left.
    """

    triangle: Indices
    weights: Floats
    cell: Indices
    asked: int

    def on(self, corners: Floats) -> Floats:
        """Points (s, d) from values (s, 3, d) at the corners of the samples' triangles."""
        points: Floats = np.einsum("sc,scd->sd", self.weights, corners)
        return points


def locate(uv: Floats, rectangle: Rectangle, rows: int, columns: int) -> Samples:
    """Sample the middles of rows x columns cells of a rectangle on triangles uv (t, 3, 2).

    Where triangles overlap in the texture, the first of them is taken; one with a NaN lies nowhere.
    """
    grid = Grid(rectangle.left, rectangle.bottom, rectangle.right, rectangle.top, rows, columns)
    first = np.full(rows * columns, len(uv))
    whole = np.flatnonzero(np.isfinite(uv).all(axis=(1, 2)))
    for hits in covered(uv[whole], grid):
        np.minimum.at(first, hits.row * columns + hits.column, whole[hits.triangle])
    cell = np.flatnonzero(first < len(uv))
    triangle = first[cell]
    middles: Floats = np.stack([cell % columns, cell // columns], axis=-1) + np.float64(0.5)
    return Samples(triangle, _weights(grid.in_cells(uv[triangle]), middles), cell, rows * columns)


def _weights(corners: Floats, points: Floats) -> Floats:
    """Barycentric coordinates (s, 3) of points (s, 2) in triangles (s, 3, 2); thirds in one without area."""
    (x1, y1), (x2, y2) = (corners[:, 1] - corners[:, 0]).T, (corners[:, 2] - corners[:, 0]).T
    x, y = (points - corners[:, 0]).T
    double = x1 * y2 - x2 * y1
    second = np.divide(x * y2 - x2 * y, double, out=np.full_like(x, 1 / 3), where=double != 0.0)
    third = np.divide(x1 * y - x * y1, double, out=np.full_like(x, 1 / 3), where=double != 0.0)
    return np.stack([1.0 - second - third, second, third], axis=-1)
