"""Tests of single frames that are off their path (ROUGHNESS_LEFT)."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.checks.base.smoothness import single_outliers


@pytest.mark.parametrize(("slope", "found"), [(1.05, [4]), (1.16, [])])
def test_how_much_roughness_may_be_left(slope: float, found: list[int]) -> None:
    """At its middle frame, the path bends in the y direction. The middle frame is displaced from the path in the x
    direction. The roughness is the sum of the squares of half the second differences. Calculated by hand, the roughness
    is 1.5 along x and slope**2 along y. If the middle frame is replaced, a roughness of slope**2 / 3 remains. At a
    slope of 1.108, this is 0.15 of the total roughness, which is the limit (ROUGHNESS_LEFT)."""
    curve = np.stack([1.0 * (np.arange(9) == 4), slope * np.abs(np.arange(9.0) - 4.0)], axis=1)
    assert list(single_outliers(curve, np.zeros(9, bool), 0.1)) == found
