"""Two jumps are tested on both sides of JUMP_UNDONE, the limit up to which they undo each other."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.checks.base.jumps import find_jumps


@pytest.mark.parametrize(("left", "outliers"), [(0.55, (9, 10, 11, 12)), (0.65, ())])
def test_how_much_of_two_jumps_may_be_left(left: float, outliers: tuple[int, ...]) -> None:
    """An even motion along x jumps by one unit along y. Four frames later, it jumps back by one unit, but in a
    direction that is turned by `angle`. The sum of the two jumps has the length 2 * sin(angle / 2) (isosceles
    triangle), which is `left` of the sum of their lengths."""
    angle = 2.0 * np.arcsin(left)
    steps = np.tile([0.3, 0.0], (24, 1))
    steps[8], steps[12] = (0.0, 1.0), (-np.sin(angle), -np.cos(angle))
    path = np.concatenate([[[0.0, 0.0]], steps.cumsum(axis=0)])
    assert find_jumps(path, np.arange(25.0), 0.2).outliers == outliers
