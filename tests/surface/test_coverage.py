"""Tests of the grid cells that triangles cover or touch. Reference: brute force, which compares every cell with every
triangle by a different method."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.arrays import Floats
from inspector.surface.coverage import CellGrid, covered, touched
from inspector.surface.lettering_box import Rectangle
from inspector.surface.locate import locate
from inspector.surface.uv_use import USE_CELLS, uv_use

GRID = CellGrid(-0.2, 0.1, 1.3, 0.9, rows=9, columns=14)


def cells_of(hits: object) -> set[tuple[int, int, int]]:
    return {
        cell
        for hit in hits  # type: ignore[attr-defined]
        for cell in zip(hit.triangle.tolist(), hit.row.tolist(), hit.column.tolist(), strict=True)
    }


def clipped_area(triangle: Floats, low: Floats, high: Floats) -> float:
    """Return the area of the part of a triangle that is inside a box. Source: Sutherland and Hodgman 1974, "Reentrant
    Polygon Clipping"."""
    ring = triangle
    for axis, bound, side in ((0, low, 1), (0, high, -1), (1, low, 1), (1, high, -1)):
        kept: list[Floats] = []
        for here, there in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            a, b = side * (here[axis] - bound[axis]), side * (there[axis] - bound[axis])
            if a >= 0:
                kept.append(here)
            if (a >= 0) != (b >= 0):
                kept.append(here + (there - here) * a / (a - b))
        if len(kept) < 3:
            return 0.0
        ring = np.array(kept)
    x, y = ring.T
    return float(abs((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) / 2)


@pytest.mark.parametrize("seed", range(6))
def test_cells_are_those_of_brute_force(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspector.surface.coverage.CELLS_TRIED", 50)  # makes many batches
    uv = np.random.default_rng(seed).uniform(-0.5, 1.5, (12, 3, 2)) * [1, 0.8]
    step = np.array([1.5 / 14, 0.8 / 9])
    inside, meeting = set(), set()
    for number, triangle in enumerate(uv):
        for row in range(9):
            for column in range(14):
                low = np.array([-0.2, 0.1]) + step * [column, row]
                (x1, y1), (x2, y2) = triangle[1] - triangle[0], triangle[2] - triangle[0]
                b, c = np.linalg.solve([[x1, x2], [y1, y2]], low + step / 2 - triangle[0])
                if min(b, c, 1 - b - c) >= 0:
                    inside.add((number, row, column))
                if clipped_area(triangle, low, low + step) > 0:
                    meeting.add((number, row, column))
    assert cells_of(covered(uv, GRID)) == inside
    assert cells_of(touched(uv, GRID)) == meeting


def test_a_line_touches_the_cells_it_runs_through() -> None:
    line = np.array([[[0.5, 0.5], [3.5, 2.5], [3.5, 2.5]]])
    found = cells_of(touched(line, CellGrid(0, 0, 4, 3, rows=3, columns=4)))
    # y = 0.5 + 2/3 (x - 0.5): at x = 1, 2 and 3, y is 5/6, 1.5 and 13/6. The line crosses y = 1 at x = 1.25 and y = 2
    # at x = 2.75.
    assert found == {(0, 0, 0), (0, 0, 1), (0, 1, 1), (0, 1, 2), (0, 2, 2), (0, 2, 3)}


def test_a_line_between_cells_touches_none() -> None:
    line = np.array([[[0.0, 1], [4, 1], [4, 1]]])
    assert cells_of(touched(line, CellGrid(0, 0, 4, 3, rows=3, columns=4))) == set()


def square(left: float, bottom: float, side: float) -> Floats:
    a, b = np.array([left, bottom]), np.array([left + side, bottom + side])
    return np.array([[a, [b[0], a[1]], b], [a, b, [a[0], b[1]]]])


def test_the_share_of_the_texture_in_use() -> None:
    half = uv_use(square(0.25, 0.25, 0.5))
    assert half is not None
    assert half.used == pytest.approx(0.25, abs=2 / USE_CELLS)
    assert half.overlap == 0.0
    assert not half.outside


def test_overlap_and_repetition_are_seen() -> None:
    twice = uv_use(np.concatenate([square(0, 0, 0.5), square(0.25, 0, 0.5)]))
    assert twice is not None
    assert twice.used == pytest.approx(0.375, abs=2 / USE_CELLS)
    assert twice.overlap == pytest.approx(0.25, abs=0.01)
    beyond = uv_use(square(0.75, 0.75, 0.5))
    assert beyond is not None
    assert beyond.outside
    assert beyond.used == pytest.approx(0.25, abs=0.01)  # the square continues on the opposite side of the texture
    pattern = uv_use(square(0, 0, 100))
    assert pattern is not None
    assert (pattern.used, pattern.overlap) == (None, None)
    assert uv_use(np.zeros((0, 3, 2))) is None


def test_points_of_the_texture_are_found_on_the_surface() -> None:
    """The surface is an affine map of the texture, so the positions are known: (16 u, 9 v)."""
    uv = square(0, 0, 1)
    samples = locate(uv, Rectangle(0.25, 0.5, 0.75, 1.5), rows=4, columns=8)
    places = samples.on(uv[samples.triangle] * [16, 9])
    assert samples.asked == 32
    assert len(places) == 16  # the upper half of the rectangle is outside the surface
    expected = [[16 * (0.25 + (i + 0.5) / 16), 9 * (0.5 + (j + 0.5) / 4)] for j in range(2) for i in range(8)]
    assert places == pytest.approx(np.array(expected))
