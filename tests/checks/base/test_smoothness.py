"""Single frames that are off, on either side of the threshold."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.checks.base.smoothness import single_outliers


@pytest.mark.parametrize(("slope", "found"), [(1.05, [4]), (1.16, [])])
def test_how_much_roughness_may_be_left(slope: float, found: list[int]) -> None:
    """One frame is off by 1 along x, and turns along y with this slope on both sides.

    By hand: the squared second differences are 1.5 and slope**2; replacing the frame leaves 0 and a third of that. A
    third of slope**2 is 0.15 of the sum at a slope of 1.108.
    """
    curve = np.stack([1.0 * (np.arange(9) == 4), slope * np.abs(np.arange(9.0) - 4.0)], axis=1)
    assert list(single_outliers(curve, np.zeros(9, bool), 0.1)) == found
