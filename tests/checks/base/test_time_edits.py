"""Tests of frames that show the motion at times other than their numbers state."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.arrays import Floats
from inspector.checks.base.time_edits import Motion, dropped, motion_of, slower


def motion(x: Floats, y: Floats, z: float | Floats = 0.0) -> Motion:
    path = np.stack(np.broadcast_arrays(x, y, z), axis=-1)
    return motion_of(path[:, None], np.zeros(len(path), bool), 1e-9)


def slowed(step: float, pace: float) -> Floats:
    return step * np.cumsum([0.0, *[1.0] * 11, *[pace] * 12])


@pytest.mark.parametrize(("pace", "starts"), [(0.39, []), (0.41, [12]), (0.57, [12]), (0.58, [])])
def test_what_is_about_half_speed(pace: float, starts: list[int]) -> None:
    """A path at full speed and a path at half speed (a cubic) are fitted. At these paces, the squared distances from
    the path at half speed are 0.047, 0.036, 0.035 and 0.045 times those from the path at full speed. The limit
    PACE_LEFT is 0.04."""
    angle = slowed(0.3, pace)
    assert slower([motion(np.cos(angle), np.sin(angle))])[0] == starts


@pytest.mark.parametrize(("aside", "starts"), [(0.010, [12]), (0.012, [])])
def test_what_a_sudden_turn_explains_better(aside: float, starts: list[int]) -> None:
    """A path with a sudden turn is fitted too. The squared distances from a path at half speed are 1.8 and 2.5 times
    those from the path with the turn. The limit PACE_TURN is 2."""
    angle = slowed(0.15, 0.5)
    turned = aside * np.maximum(0.0, np.arange(24.0) - 11.0)
    assert slower([motion(np.cos(angle), np.sin(angle), turned)])[0] == starts


@pytest.mark.parametrize(("bend", "found"), [(0.057, {8: 1}), (0.062, {})])
def test_how_far_a_step_may_lead_aside(bend: float, found: dict[int, int]) -> None:
    """The step across the gap has the slope `bend`, and the sum of the two neighbouring steps has the slope 7 * bend.
    The sine of the angle between these two directions is 0.317 and 0.341. The limit DROPPED_AIM is 0.33."""
    x = np.delete(np.arange(-8.0, 9.0), 8)
    assert dropped([motion(x, bend * x**3)]) == found
