"""Tests of frames that show the motion at the wrong time for their frame numbers."""

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
    """For the four paces, the squared distances from a path at half speed are 0.047, 0.036, 0.035 and 0.045 times those
    from a path at full speed (measured). A ratio of up to 0.04 counts as half speed (PACE_LEFT)."""
    angle = slowed(0.3, pace)
    assert slower([motion(np.cos(angle), np.sin(angle))])[0] == starts


@pytest.mark.parametrize(("aside", "starts"), [(0.010, [12]), (0.012, [])])
def test_what_a_sudden_turn_explains_better(aside: float, starts: list[int]) -> None:
    """In the two cases, the squared distances from a path at half speed are 1.8 and 2.5 times those from a path with a
    sudden turn (measured). A ratio of up to 2 counts as half speed (PACE_TURN)."""
    angle = slowed(0.15, 0.5)
    turned = aside * np.maximum(0.0, np.arange(24.0) - 11.0)
    assert slower([motion(np.cos(angle), np.sin(angle), turned)])[0] == starts


@pytest.mark.parametrize(("bend", "found"), [(0.057, {8: 1}), (0.062, {})])
def test_how_far_a_step_may_lead_aside(bend: float, found: dict[int, int]) -> None:
    """By hand: the step across the gap has the slope `bend`, and the sum of the two neighbouring steps has seven times
    this slope. In the two cases, the sine of the angle between these directions is 0.317 and 0.341. The limit is 0.33
    (DROPPED_AIM)."""
    x = np.delete(np.arange(-8.0, 9.0), 8)
    assert dropped([motion(x, bend * x**3)]) == found
