"""Flashes as in the Web Content Accessibility Guidelines 2.2, 2.3.1 (from memory): more than three pairs of opposing
changes of a tenth of relative luminance in a second, the darker below 0.8."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.picture.canvas import blank
from inspector.picture.flashing import first_flash, luminances


def test_relative_luminance_of_known_colours() -> None:
    """Weights 0.2126, 0.7152, 0.0722 (ITU-R BT.709); the grey 188 of sRGB has linear 0.5029 (IEC 61966-2-1)."""
    for colour, light in (((255, 255, 255), 1.0), ((0, 255, 0), 0.7152), ((188, 188, 188), 0.5029), ((0, 0, 0), 0.0)):
        assert luminances(blank(33, 21, colour)) == pytest.approx(np.full(64, light), abs=1e-4)
    half = blank(16, 16, (0, 0, 0))
    half[:, 8:] = 255
    assert luminances(half).reshape(8, 8).tolist() == [[0.0] * 4 + [1.0] * 4] * 8


def square_wave(changes_a_second: float, rate: float, low: float = 0.0, high: float = 1.0) -> list[np.ndarray]:
    place = np.arange(int(3 * rate))
    up = (place * changes_a_second / rate).astype(int) % 2
    return [np.array([0.2, value]) for value in np.where(up, high, low)]


@pytest.mark.parametrize(
    ("changes", "low", "high", "flashes"),
    [
        (24, 0.0, 1.0, True),
        (8, 0.0, 1.0, True),  # four flashes a second
        (6, 0.0, 1.0, False),  # three
        (24, 0.0, 0.09, False),  # too little change
        (24, 0.85, 1.0, False),  # both bright
        (24, 0.7, 0.85, True),
    ],
)
def test_flashes_are_counted(changes: float, low: float, high: float, flashes: bool) -> None:
    assert (first_flash(square_wave(changes, 24, low, high), 24) is not None) is flashes


def test_a_slow_rise_and_fall_is_no_flash_and_one_late_burst_is_found() -> None:
    slow = [np.array([value]) for value in 0.5 - 0.5 * np.cos(np.linspace(0, 6 * np.pi, 96))]
    assert first_flash(slow, 24) is None
    burst = [np.array([0.0])] * 48 + [np.array([float(place % 2)]) for place in range(12)]
    assert first_flash(burst, 24) == 49
    assert first_flash([np.array([0.5])], 24) is None
