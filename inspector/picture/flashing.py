"""Find out whether an animation flashes too often.

The limits are those of the Web Content Accessibility Guidelines (WCAG) 2.x: success criterion 2.3.1, and "general flash
and red flash thresholds". They are quoted from memory.

Red flashes are measured as in versions 2.0 and 2.1. The measure of version 2.2, a distance in the CIE 1976 chromaticity
diagram, is not defined for black.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.picture.canvas import Picture
from inspector.picture.contrast import LINEAR, LUMINANCE

Mask = npt.NDArray[np.bool_]

_CELLS = 8
"""Number of cells along each side of the picture. Here, a flash counts even if it is in only one cell; in WCAG, it
counts only if it covers a quarter of the field of view.
"""

_STEP, _DARK = 0.1, 0.8
"""A general flash is a pair of opposing changes of relative luminance by 0.1 or more. In both changes, the luminance of
the darker state is below 0.8."""

_RED_STEP, _RED_SHARE, _RED_SCALE = 20.0, 0.8, 320.0
"""A red flash is a pair of opposing changes in the value max(R - G - B, 0) x 320. Each change is at least 20 (more than
20 in WCAG), and is from or to a saturated red. A red is saturated if R / (R + G + B) is 0.8 or more. R, G and B are
linear, from 0 to 1.
"""

_CHANGES = 6
"""Maximum number of opposing changes within one second. Six opposing changes are three flashes."""

_SECOND = 1.0 - 1e-6
"""Length of a second, slightly reduced. Two changes that are exactly one second apart therefore never count as being in
the same second, even if their times are rounded.
"""


class Flash(NamedTuple):
    """A one-second period with too many flashes.

    Attributes:
        began: Time of the first change in the period, in seconds.
        red: Whether the flashes are red flashes.
    """

    began: float
    red: bool


def light_of(picture: Picture) -> Floats:
    """Compute the mean light in each of the 8 x 8 cells of a picture.

    Args:
        picture: The picture, (h, w, 3).

    Returns:
        Linear red, green and blue of each cell, (64, 3), from 0 to 1.
    """
    light = LINEAR[picture]
    rows, columns = (np.arange(_CELLS) * side // _CELLS for side in picture.shape[:2])
    sums = np.add.reduceat(np.add.reduceat(light, rows, axis=0), columns, axis=1)
    counts = np.outer(
        *(np.diff(starts, append=side) for starts, side in zip((rows, columns), picture.shape, strict=False))
    )
    return np.asarray((sums / np.maximum(counts, 1)[..., None]).reshape(-1, 3))


class Flashes:
    """Detects more than three flashes within one second. Pictures are added in the order of their times."""

    def __init__(self) -> None:
        self._general, self._red = _Swings(_STEP), _Swings(_RED_STEP)

    def add(self, seconds: float, light: Floats) -> Flash | None:
        """Add the next picture.

        Args:
            seconds: Time of the picture, in seconds, later than that of the previous picture.
            light: Light of the picture, (c, 3), from `light_of`.

        Returns:
            The one-second period that ends with this picture, if it has too many flashes; otherwise None.
        """
        luminance = light @ LUMINANCE
        red, rest = light[:, 0], light[:, 1] + light[:, 2]
        saturated = (red > 0.0) & (red >= _RED_SHARE * (red + rest))
        general = self._general.add(seconds, luminance, luminance < _DARK)
        reds = self._red.add(seconds, _RED_SCALE * np.maximum(red - rest, 0.0), saturated)
        began = reds if general is None else general
        return None if began is None else Flash(began, general is None)


def first_flash(pictures: Iterable[Floats], rate: float) -> tuple[int, bool] | None:
    """Find the first one-second period with more than three flashes in a cell.

    Args:
        pictures: Light of each picture, from `light_of`.
        rate: Pictures per second.

    Returns:
        Index of the picture with the period's first change, and whether the flashes are red; None if there is no such
        period.
    """
    flashes = Flashes()
    for place, light in enumerate(pictures):
        if (flash := flashes.add(place / rate, light)) is not None:
            return round(flash.began * rate), flash.red
    return None


class _Swings:
    """Counts the opposing changes of a value in each cell. A change counts if it is at least `step` and if `counts` is
    set for its first or its last value.
    """

    def __init__(self, step: float) -> None:
        self._step = step
        self._extreme: Floats | None = None

    def add(self, seconds: float, value: Floats, counts: Mask) -> float | None:
        """Add the next values.

        Args:
            seconds: Time of the values, in seconds.
            value: Value of each cell, (c,).
            counts: For each cell, whether a change from or to the cell's value is counted, (c,).

        Returns:
            If a cell now has too many changes within a second, the time of the first of these changes; otherwise None.
        """
        if self._extreme is None:
            self._extreme, self._counts, self._direction = value, counts, np.zeros(len(value))
            self._times = np.full((_CHANGES + 1, len(value)), -np.inf)
            return None
        direction = np.sign(value - self._extreme)
        on = (direction != 0.0) & (direction == self._direction)
        changed = ~on & (np.abs(value - self._extreme) >= self._step) & (counts | self._counts)
        self._extreme = np.where(on | changed, value, self._extreme)
        self._counts = np.where(on | changed, counts, self._counts)
        self._direction = np.where(changed, direction, self._direction)
        self._times[:-1, changed] = self._times[1:, changed]
        self._times[-1, changed] = seconds
        begun = self._times[0, changed]
        begun = begun[begun > seconds - _SECOND]
        return float(begun.min()) if len(begun) else None
