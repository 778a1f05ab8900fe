"""Find where points of the texture are on the surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.surface.coverage import CellGrid, covered
from inspector.surface.lettering_box import Rectangle


@dataclass(frozen=True, eq=False)
class Samples:
    """Sample points on the surface, from a grid over a rectangle of the texture.

    Attributes:
        triangle: Index of the triangle that contains each point, (s,).
        weights: Barycentric coordinates of each point, (s, 3).
        cell: Grid cell of each point, counted row by row from the lower left, (s,).
        asked: Number of points in the grid, including points that are not on the surface.
    """

    triangle: Indices
    weights: Floats
    cell: Indices
    asked: int

    def on(self, corners: Floats) -> Floats:
        """Interpolate values at the points, (s, d), from those at the corners of each point's triangle, (s, 3, d)."""
        points: Floats = np.einsum("sc,scd->sd", self.weights, corners)
        return points


def locate(uv: Floats, rectangle: Rectangle, rows: int, columns: int) -> Samples:
    """Find the triangles that contain the cell centres of a grid over a rectangle.

    Args:
        uv: The triangles, (t, 3, 2). Where triangles overlap in the texture, the first triangle is used. A triangle
            with a coordinate that is not finite covers nothing.
        rectangle: The rectangle, in UV.
        rows: Number of rows of cells.
        columns: Number of columns of cells.
    """
    grid = CellGrid(rectangle.left, rectangle.bottom, rectangle.right, rectangle.top, rows, columns)
    first = np.full(rows * columns, len(uv))
    whole = np.flatnonzero(np.isfinite(uv).all(axis=(1, 2)))
    for hits in covered(uv[whole], grid):
        np.minimum.at(first, hits.row * columns + hits.column, whole[hits.triangle])
    cell = np.flatnonzero(first < len(uv))
    triangle = first[cell]
    middles: Floats = np.stack([cell % columns, cell // columns], axis=-1) + np.float64(0.5)
    return Samples(triangle, _weights(grid.in_cells(uv[triangle]), middles), cell, rows * columns)


def _weights(corners: Floats, points: Floats) -> Floats:
    """Calculate barycentric coordinates, (s, 3), of each point, (s, 2), in its triangle, (s, 3, 2).

    They are 1/3 in a triangle without area.
    """
    (x1, y1), (x2, y2) = (corners[:, 1] - corners[:, 0]).T, (corners[:, 2] - corners[:, 0]).T
    x, y = (points - corners[:, 0]).T
    double = x1 * y2 - x2 * y1
    second = np.divide(x * y2 - x2 * y, double, out=np.full_like(x, 1 / 3), where=double != 0.0)
    third = np.divide(x1 * y - x * y1, double, out=np.full_like(x, 1 / 3), where=double != 0.0)
    return np.stack([1.0 - second - third, second, third], axis=-1)
