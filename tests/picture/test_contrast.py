"""Tests of contrasts. Source: the Web Content Accessibility Guidelines 2.x and their supporting documents."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.picture.contrast import contrast, least_contrast, luminance


def of(code: str) -> np.ndarray:
    return np.array(list(bytes.fromhex(code)), np.uint8)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("000000", "ffffff", 21.0),  # "Contrast ratios can range from 1 to 21" (WCAG 2.x, contrast ratio)
        ("808080", "808080", 1.0),
        ("777777", "ffffff", 4.478),  # Understanding SC 1.4.3: 4.47:1, does not meet 4.5:1 (from memory)
        ("767676", "ffffff", 4.542),  # the darkest common grey that does (from memory)
        ("949494", "ffffff", 3.03),  # the grey that just meets 3:1 (from memory)
        ("ff0000", "ffffff", 3.998),  # from memory, as contrast checkers show it
        ("0000ff", "ffffff", 8.592),
    ],
)
def test_ratios(one: str, other: str, ratio: float) -> None:
    assert contrast(of(one), of(other)) == pytest.approx(ratio, abs=6e-3)
    assert contrast(of(other), of(one)) == contrast(of(one), of(other))


def test_luminance_is_that_of_the_primaries() -> None:
    """Luminance is 0.2126 R + 0.7152 G + 0.0722 B (WCAG 2.x, relative luminance)."""
    assert luminance(np.array([[255, 0, 0], [0, 255, 0], [0, 0, 255]], np.uint8)).tolist() == [0.2126, 0.7152, 0.0722]


def test_large_text_needs_less() -> None:
    """Text is large if its size is at least 18 points, or at least 14 points for bold text (WCAG 2.x, large scale). A
    point is 4/3 pixels, so the limits are 24 and 18.67 pixels."""
    ems = np.array([18.6, 18.7, 23.9, 24.0])
    assert least_contrast(ems, bold=False).tolist() == [4.5, 4.5, 4.5, 3.0]
    assert least_contrast(ems, bold=True).tolist() == [4.5, 3.0, 3.0, 3.0]
