"""Tests of steps that are far larger than the steps around them. The expected frames are counted by hand."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest

from inspector.checks.base.steps import Jumps, jumps_in


def jumps_of(count: int, large: dict[int, float], pairs: Iterable[tuple[int, int]] = ()) -> Jumps:
    """Return the jumps among `count` steps.

    `large` contains the lengths of the large steps by index. All other steps have a length of 0.1. `pairs` contains the
    pairs of steps that undo each other.
    """
    steps = np.full(count, 0.1)
    steps[list(large)] = list(large.values())
    undone = set(pairs)
    return jumps_in(steps, lambda out, back: 0.0 if (out, back) in undone else np.inf, 0.05)


@pytest.mark.parametrize(("times", "breaks"), [(2.9, ()), (3.1, (9,))])
def test_how_far_a_step_stands_out(times: float, breaks: tuple[int, ...]) -> None:
    assert jumps_of(16, {8: 0.1 * times}).breaks == breaks


@pytest.mark.parametrize(("later", "breaks"), [(8, ()), (9, (11, 20))])
def test_within_which_distance_equal_steps_hide_each_other(later: int, breaks: tuple[int, ...]) -> None:
    assert jumps_of(40, {10: 1.0, 10 + later: 1.0}).breaks == breaks


@pytest.mark.parametrize(("frames", "outliers"), [(8, tuple(range(11, 19))), (9, ())])
def test_over_how_many_frames_a_value_may_be_elsewhere_and_return(frames: int, outliers: tuple[int, ...]) -> None:
    assert jumps_of(40, {10: 1.0, 10 + frames: 1.0}, [(10, 10 + frames)]).outliers == outliers


@pytest.mark.parametrize(("jumps", "found"), [(5, 5), (6, 0)])
def test_how_many_jumps_make_a_set_of_poses(jumps: int, found: int) -> None:
    """Each outlier makes two jumps, out and back: five outliers make ten jumps, and six make twelve. A sequence of 41
    frames with more than 41 / 4 = 10.25 jumps counts as a set of poses (JUMPS_OF_A_POSE_SET)."""
    outs = [3 + 6 * at for at in range(jumps)]
    said = jumps_of(40, {step: 1.0 for out in outs for step in (out, out + 1)}, [(out, out + 1) for out in outs])
    assert len(said.outliers) == found
