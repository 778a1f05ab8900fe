"""Read numbers that all have the same number of decimal places, in lines laid out like the first line. This is the fast
path.

Quotients of integers below 2^53 and powers of ten up to 10^22 are correctly rounded (W. D. Clinger, How to read
floating point numbers accurately, 1990).
"""

from __future__ import annotations

import re
from itertools import pairwise

import numpy as np

from inspector.arrays import Floats
from inspector.formats.wavefront.digit_words import MARGIN, Bytes, Positions, digit_flags, padded, positions

_NUMBER = re.compile(rb"-?[0-9]*\.([0-9]+)")
_EXACT_DIGITS = 15
"""Every integer with at most this number of digits is below 2^53."""


class FixedForm:
    """The layout of a block's first line: the text around its numbers, and the number of their decimal places."""

    def __init__(self, lead: bytes, gaps: tuple[bytes, ...], decimals: int) -> None:
        """Store the layout.

        Args:
            lead: The text before the first number: white space and the keyword.
            gaps: The text after each number; after the last, the line ending and the `lead` of the next line.
            decimals: Number of decimal places of each number.
        """
        self._lead, self._gaps, self.decimals = lead, gaps, decimals
        self._repeat(0)

    def _repeat(self, rows: int) -> None:
        """Make the tables for `rows` lines. For each number, they contain the distance from its decimal point to the
        next number, and the byte after its last digit.
        """
        self._steps = np.tile(np.array([self.decimals + 1 + len(gap) for gap in self._gaps]), rows)
        self._separators = np.tile(np.array([gap[0] for gap in self._gaps], np.uint8), rows)

    @classmethod
    def of_line(cls, line: bytes, keyword: bytes) -> FixedForm | None:
        """Return the layout of a line; None unless it has only the keyword, white space, and numbers with the same
        number of decimal places.

        Args:
            line: The line with its line ending.
            keyword: First word of the line.
        """
        numbers = list(_NUMBER.finditer(line))
        if not numbers:
            return None
        lead, end = line[: numbers[0].start()], line[numbers[-1].end() :]
        between = [line[one.end() : other.start()] for one, other in pairwise(numbers)]
        blank = all(gap and not gap.strip(b" \t") for gap in between)
        decimals = {len(number[1]) for number in numbers}
        if not (blank and lead.strip(b" \t") == keyword and end.strip(b" \t\r") == b"\n" and len(decimals) == 1):
            return None
        return cls(lead, (*between, end + lead), decimals.pop())

    def read(self, piece: bytes) -> Floats | None:
        """Read all numbers in a piece that consists of complete lines.

        Returns:
            The numbers, (n, c) float64; None if the layout of a line differs from that of the block's first line, or if
            a number has more than 15 digits.
        """
        text = padded(piece)
        dots = positions(text == ord("."))
        columns = len(self._gaps)
        if len(dots) % columns:
            return None
        if len(dots) > len(self._steps):
            self._repeat(len(dots) // columns)
        starts = np.empty(len(dots) + 1, np.int64)
        starts[0] = MARGIN + len(self._lead)
        np.add(dots, self._steps[: len(dots)], out=starts[1:])
        if starts[-1] != MARGIN + len(piece) + len(self._lead):
            return None
        negative = text.take(starts[:-1]) == ord("-")
        whole = dots - starts[:-1]
        whole -= negative
        if whole.min() < 0 or whole.max() > _EXACT_DIGITS - self.decimals:
            return None
        # Points, signs and gaps are at the right positions. If there are as many digits as bytes left for them, every
        # other byte is a digit.
        digits = np.count_nonzero(digit_flags(text))
        if digits != whole.sum() + len(dots) * self.decimals or not self._gaps_hold(text, dots):
            return None
        values = self._integers(text, dots, whole)
        values /= np.where(negative, -(10.0**self.decimals), 10.0**self.decimals)
        return values.reshape(-1, columns)

    def _gaps_hold(self, text: Bytes, dots: Positions) -> bool:
        first = self.decimals + 1
        if not np.array_equal(text[first:].take(dots), self._separators[: len(dots)]):
            return False
        columns = len(self._gaps)
        for column, gap in enumerate(self._gaps):
            last = column == columns - 1  # no lead of another line follows the last number
            at = np.ascontiguousarray(dots[column : -1 if last else None : columns])
            if any((text[place:].take(at) != byte).any() for place, byte in enumerate(gap[1:], first + 1)):
                return False
        return True

    def _integers(self, text: Bytes, dots: Positions, whole: Positions) -> Floats:
        """Return the digits of each number as one integer, without its sign."""
        ones = text - np.uint8(ord("0"))
        digit = (ones < 10).view(np.uint8)
        ones *= digit
        twos = ones[:-1] * np.uint8(10)
        twos *= digit[1:]  # in `2 .5`, the 2 is not part of the number with the point
        twos += ones[1:]
        values: Floats = twos.take(dots - 2).astype(np.float64)
        for more in range(2, int(whole.max()), 2):
            values += twos.take(dots - (more + 2)) * np.where(whole > more, 10.0**more, 0.0)
        for place in range(1, self.decimals, 2):
            values *= 100.0
            values += twos[place:].take(dots)
        if self.decimals % 2:
            values *= 10.0
            values += ones[self.decimals :].take(dots)
        return values
