"""Tests of held and frozen poses. The expected results are derived by hand from the steps before and after the
poses."""

from __future__ import annotations

from itertools import accumulate, pairwise

import numpy as np
import pytest

from inspector.checks.base.stillness import is_rare, motion_went_on


@pytest.mark.parametrize(
    ("before", "step", "after", "went_on"),
    [
        (1.0, 1.35, 1.0, False),  # FROZEN_NEXT_STEP: from 0.7 * 2 to 1.4 * 2
        (1.0, 1.45, 1.0, True),
        (1.0, 2.75, 1.0, True),
        (1.0, 2.85, 1.0, False),
        (0.7, 1.22, 1.0, False),  # FROZEN_OVER_USUAL: 1.25 * 1.0; FROZEN_NEXT_STEP is met from 0.7 * 1.7 = 1.19
        (0.7, 1.28, 1.0, True),
        (1.0, 1.28, 0.7, True),
    ],
)
def test_the_step_after_a_frozen_frame(before: float, step: float, after: float, went_on: bool) -> None:
    steps = np.array([np.nan, before, before, 0.0, step, after, after])
    assert motion_went_on(steps, 3, 4) is went_on


@pytest.mark.parametrize(("held", "rare"), [(5, True), (6, False)])
def test_how_many_poses_that_are_held_make_a_cadence(held: int, rare: bool) -> None:
    """A hold is rare if at most a quarter of the 20 poses around it are held as long or longer (CADENCE_SHARE)."""
    lengths = [2 if at % 3 == 0 and at < 3 * held else 1 for at in range(20)]
    stops = list(accumulate([1, *lengths, 1], initial=0))
    poses = list(pairwise(stops))
    start = poses[1 + 3 * (held // 2)][0] + 1
    assert is_rare(poses, start, start + 1) is rare
