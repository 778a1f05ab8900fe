"""The number of decimal places that changed values need."""

from __future__ import annotations

import math

import numpy as np

from inspector.arrays import Floats
from inspector.formats.frame import Frame
from inspector.formats.wavefront.writer import decimals_of
from inspector.sequence.series import Series

MOST_DECIMALS = 17
"""Maximum number of decimal places. Values of 0.1 or more gain no precision in float64 from further decimal places
(IEEE 754: 17 significant digits).
"""

_SHARE_OF_DIAGONAL = 1e-6  # rounding moves no vertex by more than this share of the reference's diagonal

SMALLEST_DIAGONAL = 10.0**-MOST_DECIMALS / _SHARE_OF_DIAGONAL
"""Smallest diagonal of a mesh for which MOST_DECIMALS decimal places suffice, scene units. If the diagonal is smaller,
rounding may move a vertex by more than the diagonal times _SHARE_OF_DIAGONAL.
"""


def needed_decimals(series: Series, factor: float = 1.0) -> int:
    """Decimal places that keep rounding errors below 1e-6 of the reference's diagonal.

    Args:
        series: The sequence.
        factor: The factor by which the positions are scaled first.

    Returns:
        The number of decimal places, at most MOST_DECIMALS. It is 0 if the scaled diagonal is at least 1e6, if there is
        no reference, or if the reference has no size.
    """
    return (
        0 if series.reference_index is None else decimals_for(float(series.diagonals[series.reference_index]) * factor)
    )


def decimals_for(diagonal: float) -> int:
    """Decimal places that keep rounding errors below 1e-6 of a diagonal, at most MOST_DECIMALS.

    Rounding to d decimal places moves a vertex by at most sqrt(3) / 2 * 10^-d, which is less than 10^-d. The result is
    0 if the diagonal is at least 1e6, or is not a finite length above 0.
    """
    if not (math.isfinite(diagonal) and diagonal > 0):
        return 0
    return min(MOST_DECIMALS, max(0, math.ceil(-math.log10(_SHARE_OF_DIAGONAL * diagonal))))


def position_decimals(frame: Frame, needed: int, more: int = 0) -> dict[bytes, int]:
    """Decimal places for the frame's positions, as `Frame.replace` takes them.

    Args:
        frame: The frame.
        needed: The minimum number of decimal places.
        more: The number of decimal places to add to those of the frame.
    """
    return {b"v": min(MOST_DECIMALS, max(decimals_of(frame, b"v") + more, needed))}


def exact_decimals(values: Floats, least: int) -> int:
    """The smallest number of decimal places that keeps every value bit for bit; MOST_DECIMALS if no smaller number
    does.

    Args:
        values: The values, in an array of any shape.
        least: The smallest number of decimal places to try.
    """
    for decimals in range(least, MOST_DECIMALS):
        if np.array_equal(np.round(values, decimals), values):
            return decimals
    return MOST_DECIMALS
