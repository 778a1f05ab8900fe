"""Tests of how a frame's position and size before a fix are compared with those after the fix."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.arrays import Floats
from inspector.picture.placement import placement_of

BOX = np.array([[1.0, 2.0, 3.0], [2.0, 4.0, 5.0]])  # 1 x 2 x 2: the diagonal is 3, the centre is (1.5, 3, 4)
POINTS = np.array([[1.0, 2.0, 3.0], [1.25, 4.0, 3.5], [2.0, 3.0, 5.0]])


def moved(points: Floats, factor: float, offset: float = 0.0) -> Floats:
    return points * factor + offset


@pytest.mark.parametrize(("factor", "offset"), [(0.01, 0.0), (100.0, 0.0), (0.0254, 7.0), (1.0, 1e5), (1.0, -2000.0)])
def test_positions_are_put_back(factor: float, offset: float) -> None:
    placement = placement_of(BOX, moved(BOX, factor, offset))
    assert placement is not None
    assert placement.factor == pytest.approx(factor)
    np.testing.assert_allclose(placement.put_back(moved(POINTS, factor, offset)), POINTS, rtol=1e-9, atol=1e-9)


def test_the_words_name_what_changes() -> None:
    scaled, gone = placement_of(BOX, moved(BOX, 0.01)), placement_of(BOX, moved(BOX, 1.0, 1000.0))
    assert scaled is not None
    assert gone is not None
    assert (scaled.what, scaled.words) == ("scale", "longest side 0.02 units (before: 2 units)")
    assert (scaled.words_before, scaled.words_after) == ("longest side 2 units", "longest side 0.02 units")
    assert (gone.what, gone.words) == ("position", "centre 1002 1003 1004 (before: 1.5 3 4)")


@pytest.mark.parametrize(("along", "shared"), [(2.9, True), (3.1, False)])
def test_one_camera_shows_both_up_to_four_diagonals(along: float, shared: bool) -> None:
    """If a cube with an edge length of 1 is moved by 3 along all axes, the box around both positions has an edge length
    of 4. The box's diagonal is four times that of the cube."""
    cube = np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 1.0]])
    assert (placement_of(cube, cube + along) is None) == shared


@pytest.mark.parametrize(
    ("before", "after"),
    [(None, BOX), (BOX, None), (BOX, BOX), (BOX[[0, 0]], BOX), (BOX, BOX * 1e200), (BOX * 1e200, BOX)],
    ids=["no box before", "no box after", "the same", "a point", "too large after", "too large before"],
)
def test_without_two_usable_places_there_is_none(before: Floats | None, after: Floats | None) -> None:
    assert placement_of(before, after) is None
