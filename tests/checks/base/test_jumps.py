"""Tests of jumps that undo each other (JUMP_UNDONE)."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.checks.base.jumps import find_jumps


@pytest.mark.parametrize(("left", "outliers"), [(0.55, (9, 10, 11, 12)), (0.65, ())])
def test_how_much_of_two_jumps_may_be_left(left: float, outliers: tuple[int, ...]) -> None:
    """The second jump reverses the first jump, but is turned by `angle`. By hand: each jump has length 1, so the sum of
    the two jumps has length 2 * sin(angle / 2) (isosceles triangle). `left` is this length, divided by the total length
    of the two jumps."""
    angle = 2.0 * np.arcsin(left)
    steps = np.tile([0.3, 0.0], (24, 1))
    steps[8], steps[12] = (0.0, 1.0), (-np.sin(angle), -np.cos(angle))
    path = np.concatenate([[[0.0, 0.0]], steps.cumsum(axis=0)])
    assert find_jumps(path, np.arange(25.0), 0.2).outliers == outliers
