"""Tests of flashes as defined in the Web Content Accessibility Guidelines 2.x, 2.3.1 (from memory).

A flash is a pair of opposing changes. More than three flashes within one second are too many.

A general change is a difference of at least 0.1 in relative luminance, with the darker image below 0.8. A red change is
a difference of more than 20 in (R - G - B) x 320, with negative values set to 0, where R / (R + G + B) is at least 0.8
in one of the two images.
"""

from __future__ import annotations

import numpy as np
import pytest

from inspector.picture.canvas import blank
from inspector.picture.flashing import Flashes, first_flash, light_of


def test_relative_luminance_of_known_colours() -> None:
    """Sources: ITU-R BT.709 (weights 0.2126, 0.7152, 0.0722) and IEC 61966-2-1 (0.5029 for the sRGB grey 188)."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    for colour, light in (((255, 255, 255), 1.0), ((0, 255, 0), 0.7152), ((188, 188, 188), 0.5029), ((0, 0, 0), 0.0)):
        assert light_of(blank(33, 21, colour)) @ weights == pytest.approx(np.full(64, light), abs=1e-4)
    half = blank(16, 16, (0, 0, 0))
    half[:, 8:, 0] = 255
    red, green, blue = light_of(half).reshape(8, 8, 3).transpose(2, 0, 1)
    assert red.tolist() == [[0.0] * 4 + [1.0] * 4] * 8
    assert not green.any()
    assert not blue.any()
    assert light_of(blank(3, 5, (255, 255, 255))).shape == (64, 3)


Light = tuple[float, float, float]


def grey(value: float) -> Light:
    return (value, value, value)


def square_wave(changes_a_second: float, rate: float, low: Light, high: Light) -> list[np.ndarray]:
    place = np.arange(int(3 * rate))
    up = (place * changes_a_second / rate).astype(int) % 2
    return [np.array([grey(0.2), high if one else low]) for one in up]


@pytest.mark.parametrize(
    ("changes", "low", "high", "flashes"),
    [
        (24, 0.0, 1.0, True),
        (8, 0.0, 1.0, True),  # four flashes per second
        (6, 0.0, 1.0, False),  # three flashes per second
        (24, 0.0, 0.09, False),  # too little change
        (24, 0.85, 1.0, False),  # both bright
        (24, 0.7, 0.85, True),
    ],
)
def test_flashes_are_counted(changes: float, low: float, high: float, flashes: bool) -> None:
    found = first_flash(square_wave(changes, 24, grey(low), grey(high)), 24)
    assert found is None or found[1] is False
    assert (found is not None) is flashes


# Linear red, green, blue. Calculated by hand: the share R / (R + G + B), and the measure (R - G - B) x 320.
RED_FLASHES = {
    "red and green of one luminance: share 1, 320 against 0": (24, (1.0, 0.0, 0.0), (0.0, 0.297, 0.0), True),
    "dim red and black: 0.07 x 320 = 22.4 against 0": (24, (0.07, 0.0, 0.0), (0.0, 0.0, 0.0), True),
    "dimmer red and black: 0.06 x 320 = 19.2": (24, (0.06, 0.0, 0.0), (0.0, 0.0, 0.0), False),
    "share 0.33 / 0.41 = 0.805, 0.25 x 320 = 80 against 0": (24, (0.33, 0.04, 0.04), (0.1, 0.1, 0.1), True),
    "share 0.31 / 0.40 = 0.775": (24, (0.31, 0.05, 0.04), (0.1, 0.1, 0.1), False),
    "two reds, 0.4 and 0.36: 12.8 apart": (24, (0.4, 0.0, 0.0), (0.36, 0.0, 0.0), False),
    "two reds, 0.4 and 0.33: 22.4 apart": (24, (0.4, 0.0, 0.0), (0.33, 0.0, 0.0), True),
    "blue and green, both 0 and not below": (24, (0.0, 0.0, 1.0), (0.0, 0.1, 0.0), False),
    "three flashes a second": (6, (1.0, 0.0, 0.0), (0.0, 0.297, 0.0), False),
    "four flashes a second": (8, (1.0, 0.0, 0.0), (0.0, 0.297, 0.0), True),
}


@pytest.mark.parametrize("name", RED_FLASHES)
def test_red_flashes_are_counted(name: str) -> None:
    changes, one, other, flashes = RED_FLASHES[name]
    for low, high in ((one, other), (other, one)):
        found = first_flash(square_wave(changes, 24, low, high), 24)
        assert found is None or found[1] is True  # all of these differ by less than a tenth of luminance
        assert (found is not None) is flashes


def test_a_red_that_grows_and_fades_slowly_is_no_flash() -> None:
    slow = [np.array([[value, 0.0, 0.0]]) for value in 0.5 - 0.5 * np.cos(np.linspace(0, 6 * np.pi, 96))]
    assert first_flash(slow, 24) is None


def test_a_slow_rise_and_fall_is_no_flash_and_one_late_burst_is_found() -> None:
    slow = [np.array([grey(value)]) for value in 0.5 - 0.5 * np.cos(np.linspace(0, 6 * np.pi, 96))]
    assert first_flash(slow, 24) is None
    burst = [np.array([grey(0.0)])] * 48 + [np.array([grey(float(place % 2))]) for place in range(12)]
    assert first_flash(burst, 24) == (49, False)
    assert first_flash([np.array([grey(0.5)])], 24) is None


def test_flashes_of_different_cells_are_not_added_up() -> None:
    wander = [np.where(np.arange(7)[:, None] == place % 7, 1.0, 0.0) * np.ones(3) for place in range(7)]
    assert first_flash(wander, 24) is None


def test_flashes_are_timed_by_when_pictures_are_shown() -> None:
    """Seven changes within one second are too many. Here, the seventh change is 1.02 s or 0.96 s after the first."""
    for between, flashes in ((0.17, False), (0.16, True)):
        watch = Flashes()
        found = [watch.add(place * between, np.array([grey(float(place % 2))])) for place in range(8)]
        assert (found[-1] is not None) is flashes
        assert not any(found[:-1])
