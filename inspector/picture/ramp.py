"""Show values as shades from blue to yellow, each of which also has a letter."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.picture.canvas import DARK, Colour, Picture, stripes

Steps = npt.NDArray[np.int64]

NO_VALUE = -1

_LOW, _HIGH = (0, 95, 175), (255, 215, 95)
"""Colours of the lowest and the highest step. Colour-blind people can distinguish all steps from the lowest to the
highest (the idea of the colour map "cividis": Nunez, Anderton and Renslow 2018)."""
_UNKNOWN: Colour = (96, 96, 96)


@dataclass(frozen=True)
class Ramp:
    """Equal steps of values, each with a colour and a letter. Step A is the lowest and the darkest.

    Attributes:
        low: Value at which the lowest step begins.
        high: Value at which the highest step ends.
        count: Number of steps, at most 26.
    """

    low: float
    high: float
    count: int = 6

    @property
    def letters(self) -> str:
        return "".join(chr(ord("A") + step) for step in range(self.count))

    @cached_property
    def colours(self) -> Picture:
        """The colours of all steps, (count, 3) uint8."""
        return np.rint(np.linspace(_LOW, _HIGH, self.count)).astype(np.uint8)

    @property
    def bounds(self) -> Floats:
        """The bounds of the steps, ascending, (count + 1,)."""
        return np.linspace(self.low, self.high, self.count + 1)

    def steps(self, values: Floats) -> Steps:
        """Return the index of each value's step; NO_VALUE for NaN. A value outside the range gets the nearest step."""
        step = np.searchsorted(self.bounds[1:-1], values, "right")
        return np.where(np.isnan(values), NO_VALUE, step)

    def picture(self, values: Floats) -> Picture:
        """Draw values, (h, w), as shades, (h, w, 3), with grey stripes for NaN."""
        steps = self.steps(values)
        picture = self.colours[steps]
        missing = steps == NO_VALUE
        picture[missing] = _UNKNOWN
        picture[missing & stripes(*values.shape, period=4, thickness=1)] = DARK
        return picture
