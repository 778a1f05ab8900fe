"""Tests of single frames that are off their path (ROUGHNESS_LEFT)."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.checks.base.smoothness import single_outliers


@pytest.mark.parametrize(("slope", "found"), [(1.05, [4]), (1.16, [])])
def test_how_much_roughness_may_be_left(slope: float, found: list[int]) -> None:
    """By hand: the sums of the squares of half the second differences are 1.5 along x and slope**2 along y. Replacing
    the frame leaves 0 along x and slope**2 / 3 along y. At a slope of 1.108, slope**2 / 3 is 0.15 of the total, 1.5 +
    slope**2."""
    curve = np.stack([1.0 * (np.arange(9) == 4), slope * np.abs(np.arange(9.0) - 4.0)], axis=1)
    assert list(single_outliers(curve, np.zeros(9, bool), 0.1)) == found
