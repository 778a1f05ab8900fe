"""Contrast ratio and relative luminance of colours, as defined in the Web Content Accessibility Guidelines
(WCAG) 2.x.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats

LARGE_RATIO, SMALL_RATIO = 3.0, 4.5
"""Minimum contrast ratios for large text and for other text (WCAG 2.x, success criterion 1.4.3)."""

LARGE_EM, LARGE_BOLD_EM = 24.0, 18.66
"""Minimum em size of large regular text and of large bold text, in pixels: 18 pt and 14 pt, with 4/3 pixels per point
(WCAG 2.x, "large scale").
"""

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Weights of linear red, green and blue in relative luminance."""
_SHOWN = np.arange(256) / 255.0
LINEAR = np.where(_SHOWN <= 0.04045, _SHOWN / 12.92, ((_SHOWN + 0.055) / 1.055) ** 2.4)
"""Linear value of each 8-bit value (IEC 61966-2-1, sRGB). The threshold of WCAG 2.0, 0.03928 instead of 0.04045, gives
the same values.
"""


def luminance(colours: npt.NDArray[np.uint8]) -> Floats:
    """Compute the relative luminance of colours, (...), from 0 to 1.

    Args:
        colours: The colours, (..., 3), in sRGB.
    """
    return np.asarray(LINEAR[colours] @ LUMINANCE)


def contrast(one: npt.NDArray[np.uint8], other: npt.NDArray[np.uint8]) -> Floats:
    """Compute the contrast ratio of pairs of colours.

    The ratio is (L1 + 0.05) / (L2 + 0.05), where L1 and L2 are the luminances of the lighter and the darker colour.

    Args:
        one: One colour of each pair, (..., 3), in sRGB.
        other: The other colour of each pair, (..., 3), in sRGB.

    Returns:
        The ratio for each pair, (...), from 1 to 21.
    """
    a, b = luminance(one) + 0.05, luminance(other) + 0.05
    return np.asarray(np.maximum(a, b) / np.minimum(a, b))


def least_contrast(em: Floats, bold: bool) -> Floats:
    """Return the minimum contrast ratio that each text needs, (...).

    Args:
        em: Em size of each text, (...), in pixels.
        bold: Whether the texts are bold.
    """
    return np.where(em >= (LARGE_BOLD_EM if bold else LARGE_EM), LARGE_RATIO, SMALL_RATIO)
