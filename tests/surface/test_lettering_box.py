"""Tests of the largest rectangle in which lettering is safe. References: brute force, and islands whose largest
rectangle is known."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from inspector.arrays import Floats
from inspector.surface.lettering_box import Rectangle, largest_rectangle, safe_rectangle

CELLS = 100


@pytest.mark.parametrize("seed", range(40))
def test_the_largest_rectangle_is_that_of_brute_force(seed: int) -> None:
    random = np.random.default_rng(seed)
    shape = tuple(random.integers(1, 8, 2))
    cells = random.random(shape) < random.uniform(0.3, 1.0)
    most = 0
    for a, b in itertools.combinations(range(shape[0] + 1), 2):
        for c, d in itertools.combinations(range(shape[1] + 1), 2):
            if cells[a:b, c:d].all():
                most = max(most, (b - a) * (d - c))
    found = largest_rectangle(cells)
    assert (found is None) == (most == 0)
    if found is not None:
        bottom, left, top, right = found
        assert cells[bottom:top, left:right].all()
        assert (top - bottom) * (right - left) == most


def outline_of(ring: list[list[float]]) -> Floats:
    points = np.array(ring, float)
    return np.stack([points, np.roll(points, -1, axis=0)], axis=1)


def fan(ring: list[list[float]]) -> Floats:
    points = np.array(ring, float)
    return np.array([[points[0], points[i], points[i + 1]] for i in range(1, len(ring) - 1)])


def found(ring: list[list[float]]) -> Rectangle:
    rectangle = safe_rectangle(fan(ring), np.ones(len(ring) - 2, bool), outline_of(ring), CELLS)
    assert rectangle is not None
    return rectangle


def area(rectangle: Rectangle) -> float:
    return rectangle.width * rectangle.height


def test_a_square_is_safe_whole() -> None:
    assert found([[0, 0], [1, 0], [1, 1], [0, 1]]) == Rectangle(0, 0, 1, 1)


def test_in_a_diamond_it_is_half_of_it() -> None:
    """In the diamond |x| + |y| <= 1, a rectangle with the corners (±x, ±y) has the area 4xy. The maximum is at x = y =
    1/2 (inequality of arithmetic and geometric means)."""
    rectangle = found([[1, 0], [0, 1], [-1, 0], [0, -1]])
    corner = max(abs(rectangle.left), abs(rectangle.right)) + max(abs(rectangle.bottom), abs(rectangle.top))
    assert corner <= 1 + 1e-9
    step = 2 / CELLS
    assert (1 - 2 * step) ** 2 <= area(rectangle) <= 1


def test_in_a_triangle_it_is_half_of_it() -> None:
    """The largest rectangle on a side of a triangle has half of the triangle's area. Source: Pólya 1954, "Mathematics
    and Plausible Reasoning" I, from memory."""
    rectangle = found([[0, 0], [4, 0], [1, 2]])
    assert (2 - 2 * 4 / CELLS) * (1 - 2 * 2 / CELLS) <= area(rectangle) <= 2


def test_a_sliver_that_no_cell_middle_lies_in_is_kept_out() -> None:
    ring = [[0.0, 0], [0.5, 0], [0.505, 0], [1, 0], [1, 1], [0.505, 1], [0.5, 1], [0, 1]]
    points = np.array(ring)
    strips = [[0, 1, 6], [0, 6, 7], [1, 2, 5], [1, 5, 6], [2, 3, 4], [2, 4, 5]]
    good = np.array([True, True, False, False, True, True])
    rectangle = safe_rectangle(points[strips], good, outline_of([[0, 0], [1, 0], [1, 1], [0, 1]]), CELLS)
    assert rectangle == Rectangle(0, 0, 0.5, 1)


def test_a_hole_is_kept_out() -> None:
    outer, inner = [[0, 0], [4, 0], [4, 4], [0, 4]], [[1, 1], [3, 1], [3, 3], [1, 3]]
    points = np.array(outer + inner, float)
    faces = [[0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7]]
    cut = [[face[0], face[i], face[i + 1]] for face in faces for i in (1, 2)]
    outline = np.concatenate([outline_of(outer), outline_of(inner)])
    rectangle = safe_rectangle(points[cut], np.ones(8, bool), outline, CELLS)
    assert rectangle is not None
    assert area(rectangle) == pytest.approx(4)


def test_nothing_safe_is_none() -> None:
    ring = [[0.0, 0], [1, 0], [1, 1], [0, 1]]
    assert safe_rectangle(fan(ring), np.zeros(2, bool), outline_of(ring), CELLS) is None
    assert safe_rectangle(fan([[0, 0], [1, 0], [1, 0]]), np.ones(1, bool), outline_of(ring), CELLS) is None
