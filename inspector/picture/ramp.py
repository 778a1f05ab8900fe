"""Values as shades of one hue, with a letter to each shade, so that they can be read without colour."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from inspector.picture.canvas import DARK, INK, Colour, Picture, blank, stamp, stripes, write
from inspector.picture.font import ADVANCE, HEIGHT, written

Floats = npt.NDArray[np.float64]
Steps = npt.NDArray[np.int64]

NO_VALUE = -1

_LOW, _HIGH = np.array([34.0, 58.0, 74.0]), np.array([214.0, 234.0, 240.0])
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
        share = np.linspace(0.0, 1.0, self.count)[:, None]
        return np.asarray(np.rint(_LOW + share * (_HIGH - _LOW)), np.uint8)

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

    def letter(self, picture: Picture, values: Floats) -> None:
        """Stamp letters over a picture of the values, in place, wherever one step fills the space around a letter."""
        steps = self.steps(values)
        height, width = steps.shape
        tall, wide = HEIGHT, ADVANCE + 1
        for number, top in enumerate(range(1, height - tall, 2 * tall)):
            for left in range(1 + (number % 2) * 2 * wide, width - wide, 4 * wide):
                around = steps[top : top + tall, left : left + wide]
                step = int(around[0, 0])
                if step != NO_VALUE and (around == step).all():
                    dots = written(self.letters[step])[:7]
                    stamp(picture, dots, left + 1, top + 1, INK if step < self.count / 2 else DARK)

    def legend(self, unit: str = "") -> Picture:
        """A picture of the steps, the highest on top: shade, letter, and the values from which to which."""
        bounds = self.bounds
        lines = [
            f"{letter} {start:.4g} to {stop:.4g} {unit}".rstrip()
            for letter, start, stop in zip(self.letters, bounds, bounds[1:], strict=False)
        ]
        line = HEIGHT + 3
        picture = blank(24 + ADVANCE * max(map(len, lines)), line * self.count + 4)
        for place, step in enumerate(reversed(range(self.count))):
            top = 2 + place * line
            picture[top : top + line - 1, 2:18] = self.colours[step]
            write(picture, lines[step], 22, top + 2)
        return picture
