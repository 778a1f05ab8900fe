"""Values as shades from blue to yellow, with a letter to each shade that they can be read by without colour."""

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
"""A dark blue and a light yellow, which 256 colours have as well. Colour-blind eyes tell them apart, and the lightness
rises evenly (the idea of the map "cividis": Nunez, Anderton and Renslow 2018). It is so far from the ground, and each
step's from the next, that ten characters by ink still tell six steps apart."""
_UNKNOWN: Colour = (96, 96, 96)


@dataclass(frozen=True)
class Ramp:
    """`count` equal steps (at most 26) from `low` to `high`; A is the lowest and the darkest."""

    low: float
    high: float
    count: int = 6

    @property
    def letters(self) -> str:
        return "".join(chr(ord("A") + step) for step in range(self.count))

    @cached_property
    def colours(self) -> Picture:
        """(count, 3) uint8."""
        return np.rint(np.linspace(_LOW, _HIGH, self.count)).astype(np.uint8)

    @property
    def bounds(self) -> Floats:
        """(count + 1,): where the steps begin and end."""
        return np.linspace(self.low, self.high, self.count + 1)

    def steps(self, values: Floats) -> Steps:
        """The step that each value falls into, NO_VALUE for NaN; values beyond the ends fall into the end steps."""
        step = np.searchsorted(self.bounds[1:-1], values, "right")
        return np.where(np.isnan(values), NO_VALUE, step)

    def picture(self, values: Floats) -> Picture:
        """(h, w) -> (h, w, 3): the shade of each value; grey stripes where there is none."""
        steps = self.steps(values)
        picture = self.colours[steps]
        missing = steps == NO_VALUE
        picture[missing] = _UNKNOWN
        picture[missing & stripes(*values.shape, period=4, thickness=1)] = DARK
        return picture
