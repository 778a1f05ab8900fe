"""Find the number of decimal places that changed values need."""

from __future__ import annotations

import math

import numpy as np

from inspector.arrays import Floats
from inspector.formats.frame import Frame
from inspector.formats.wavefront.writer import decimals_of
from inspector.sequence.series import Series

MOST_DECIMALS = 17
"""Maximum number of decimal places. Further places add no precision to float64 values of 0.1 or more (IEEE 754: 17
significant digits)."""

_SHARE_OF_DIAGONAL = 1e-6  # rounding moves no vertex by more than this share of the diagonal

SMALLEST_DIAGONAL = 10.0**-MOST_DECIMALS / _SHARE_OF_DIAGONAL
"""Minimum diagonal, in scene units, of a mesh for which MOST_DECIMALS decimal places keep rounding errors below 1e-6 of
the diagonal."""


def needed_decimals(series: Series, factor: float = 1.0) -> int:
    """Return the number of decimal places that keeps rounding errors below 1e-6 of the reference frame's diagonal.

    Args:
        series: The sequence.
        factor: The factor by which the positions are scaled before they are rounded.

    Returns:
        The number of decimal places, at most MOST_DECIMALS; 0 if the scaled diagonal is at least 1e6, or the reference
        frame is missing or has zero size.
    """
    return (
        0 if series.reference_index is None else decimals_for(float(series.diagonals[series.reference_index]) * factor)
    )


def decimals_for(diagonal: float) -> int:
    """Return the number of decimal places that keeps rounding errors below 1e-6 of a diagonal.

    Rounding to d decimal places moves a vertex by at most sqrt(3) / 2 * 10^-d.

    Args:
        diagonal: Length of the diagonal, in scene units.

    Returns:
        The number of decimal places, at most MOST_DECIMALS; 0 if the diagonal is at least 1e6, or not a finite length
        above 0.
    """
    if not (math.isfinite(diagonal) and diagonal > 0):
        return 0
    return min(MOST_DECIMALS, max(0, math.ceil(-math.log10(_SHARE_OF_DIAGONAL * diagonal))))


def position_decimals(frame: Frame, needed: int, more: int = 0) -> dict[bytes, int]:
    """Return the number of decimal places for the frame's positions, in the form that `Frame.replace` expects.

    Args:
        frame: The frame.
        needed: Minimum number of decimal places.
        more: Number of decimal places to add to the frame's own.
    """
    return {b"v": min(MOST_DECIMALS, max(decimals_of(frame, b"v") + more, needed))}


def exact_decimals(values: Floats, least: int) -> int:
    """Return the smallest number of decimal places at which rounding changes no value, at most MOST_DECIMALS.

    Args:
        values: The values, of any shape.
        least: The smallest number of decimal places to try.
    """
    for decimals in range(least, MOST_DECIMALS):
        if np.array_equal(np.round(values, decimals), values):
            return decimals
    return MOST_DECIMALS
