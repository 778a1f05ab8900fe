"""Contrast of two colours, as defined in the Web Content Accessibility Guidelines 2.x ("contrast ratio" and "relative
luminance")."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats

LARGE_RATIO, SMALL_RATIO = 3.0, 4.5
"""Minimum contrast ratios of large text and of other text (WCAG 2.x, success criterion 1.4.3)."""

LARGE_EM, LARGE_BOLD_EM = 24.0, 18.66
"""Minimum size of the em, in pixels, of large text, and of large bold text. They are 18 and 14 points of 4/3 pixels
(WCAG 2.x, "large scale").
"""

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Shares of linear red, green and blue in relative luminance."""
_SHOWN = np.arange(256) / 255.0
LINEAR = np.where(_SHOWN <= 0.04045, _SHOWN / 12.92, ((_SHOWN + 0.055) / 1.055) ** 2.4)
"""Linear value of each 8-bit value (IEC 61966-2-1, sRGB). WCAG 2.0 has 0.03928 instead of 0.04045; no 8-bit value is
between the two.
"""


def luminance(colours: npt.NDArray[np.uint8]) -> Floats:
    """Calculate the relative luminance of colours.

    Args:
        colours: (..., 3), sRGB.

    Returns:
        The luminance of each colour, (...), 0 to 1.
    """
    return np.asarray(LINEAR[colours] @ LUMINANCE)


def contrast(one: npt.NDArray[np.uint8], other: npt.NDArray[np.uint8]) -> Floats:
    """Calculate the contrast ratio of colours: (L1 + 0.05) / (L2 + 0.05), where L1 is the lighter colour's luminance.

    Args:
        one: (..., 3), sRGB.
        other: (..., 3), sRGB.

    Returns:
        The ratio for each pair of colours, (...), 1 to 21.
    """
    a, b = luminance(one) + 0.05, luminance(other) + 0.05
    return np.asarray(np.maximum(a, b) / np.minimum(a, b))


def least_contrast(em: Floats, bold: bool) -> Floats:
    """Determine the contrast ratio that text needs.

    Args:
        em: (...), size of the em, in pixels.
        bold: Whether the text is bold.

    Returns:
        The minimum contrast ratio, (...).
    """
    return np.where(em >= (LARGE_BOLD_EM if bold else LARGE_EM), LARGE_RATIO, SMALL_RATIO)
