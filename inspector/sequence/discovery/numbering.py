"""Read frame numbers from file names, and find their padding and their regular grid."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import gcd

REGULAR_SHARE = Fraction(9, 10)
"""If at least this fraction of the differences between neighbouring whole frame numbers are equal, their value is the
stride, even if other differences are not multiples of it."""

UNEVEN_PARTS = 3
"""Numbers count as sub-frames only if the largest distance between neighbouring numbers is at most this many times the
smallest distance."""

_DIGITS = b"0123456789"


@dataclass(frozen=True, slots=True)
class Numeral:
    """A frame number as written in a file name.

    Attributes:
        whole: Digits before the point.
        part: Digits after the point of a sub-frame; b"" for a whole frame.
    """

    whole: bytes
    part: bytes = b""

    @property
    def value(self) -> Fraction:
        """The exact number, such as 3/2 for 0001.5."""
        whole = Fraction(int(self.whole))
        return whole + fraction_of(self.part) if self.part else whole

    @property
    def order(self) -> tuple[int, bytes]:
        """The key for sorting by number. Decimal places are compared as text."""
        return int(self.whole), self.part.rstrip(b"0")


def fraction_of(part: bytes) -> Fraction:
    """Return the value of the digits after a decimal point."""
    return Fraction(int(part), 10 ** len(part))


def split_number(base: bytes) -> tuple[bytes, bytes]:
    """Split off the digits at the end of a name without extension, as in (b"walk-", b"0001").

    Either part may be empty. A minus sign is not split off: it belongs to the first part.
    """
    stem = base.rstrip(_DIGITS)
    return stem, base[len(stem) :]


def number_after(stem: bytes, name: bytes) -> Fraction:
    """Read the frame number from a file name that consists of a stem, the number, a dot and the extension: 3/2 from
    manta.0001.5.obj."""
    whole, _, part = name[len(stem) :].rpartition(b".")[0].partition(b".")
    return Numeral(whole, part).value


def are_subframes(wholes: Collection[bytes], parts: Mapping[bytes, Collection[bytes]]) -> bool:
    """Return whether names such as `manta.0001.5` are sub-frames of `manta.` rather than frames of `manta.0001.`.

    The names are sub-frames if three conditions are met (common practice, no source):

    1. The fractions divide a frame into intervals of similar length.
    2. No number is written in two ways (`manta.0001.1` and `manta.0001.10`, or `manta.0001` and `manta.0001.0`).
    3. If the fraction 0 doesn't occur, one of the whole frames also exists without a fraction (`manta.0001`). If it
       occurs (`manta.0001.0`), there are at least two different fractions, and more whole frames than fractions.
       Without this condition, frames 0 and 5 of each of two shots would count as sub-frames.

    Args:
        wholes: Digits of the frame numbers that are written without a fraction.
        parts: Digits after the point, by the digits of the whole frame.
    """
    for written in parts.values():
        if len({part.rstrip(b"0") for part in written}) < len(written):
            return False  # 1 and 10 are two frames, but one fraction
    fractions = {fraction_of(part) for written in parts.values() for part in written}
    zero = [whole for whole, written in parts.items() if any(fraction_of(part) == 0 for part in written)]
    if any(whole in wholes for whole in zero):
        return False
    if not (1 < len(fractions) < len(parts) if zero else any(whole in wholes for whole in parts)):
        return False
    edges = sorted(fractions | {Fraction(0), Fraction(1)})
    gaps = [after - before for before, after in pairwise(edges)]
    return max(gaps) <= UNEVEN_PARTS * min(gaps)


def padding_of(wholes: Iterable[bytes]) -> int:
    """Find the number of digits to which numbers are padded with zeros: the width that fits the most numbers; 1 without
    padding.

    A number with a leading zero fits only its own width, and any other number fits all widths up to its own. If no
    number has a leading zero, numbers of the same width (1001, 1002) count as padded to that width.
    """
    padded: Counter[int] = Counter()
    plain: Counter[int] = Counter()
    for digits in wholes:
        (padded if digits[0:1] == b"0" and len(digits) > 1 else plain)[len(digits)] += 1
    if not padded:
        return next(iter(plain)) if len(plain) == 1 else 1

    def fit(width: int) -> tuple[int, bool, int]:
        fitting = padded[width] + sum(count for length, count in plain.items() if length >= width)
        return fitting, width in padded, width

    return max({1, *padded, *plain}, key=fit)


@dataclass(frozen=True, slots=True)
class NumberGrid:
    """The frame numbers of a regular sequence.

    Whole frames are at equal distances. The sub-frames after each whole frame have the same fractions.

    Attributes:
        stride: Distance between neighbouring whole frames.
        phase: Remainder of each whole frame's number after division by `stride`.
        parts: Fractions of the frame numbers, in [0, 1), in ascending order. The first fraction is 0.
    """

    stride: int
    phase: int
    parts: tuple[Fraction, ...]

    @property
    def step(self) -> Fraction:
        """Mean distance from one number to the next, in frames."""
        return Fraction(self.stride, len(self.parts))

    def numbers(self, first: Fraction, last: Fraction) -> tuple[Fraction, ...]:
        """Return the numbers of the grid from `first` to `last`, both included, in order."""
        start = first.numerator // first.denominator
        start += (self.phase - start) % self.stride
        if start - self.stride + self.parts[-1] >= first:
            start -= self.stride
        stop = last.numerator // last.denominator + 1
        every = (whole + part for whole in range(start, stop, self.stride) for part in self.parts)
        return tuple(number for number in every if first <= number <= last)


def grid_of(numbers: Sequence[Fraction]) -> NumberGrid:
    """Find the regular grid of frame numbers (common practice, no source).

    The stride is the most common difference between neighbouring whole frame numbers if all differences are multiples
    of it (1, 3, 5, 9: frame 7 is missing), or if nearly all differences equal it. Otherwise, the stride is the greatest
    common divisor of the differences. If no difference occurs twice, the stride is 1.

    A fraction, such as the .5 of sub-frames, belongs to the grid if it occurs in at least half of the intervals between
    whole frames.

    Args:
        numbers: At least one frame number, in any order. Numbers may repeat.
    """
    wholes = sorted({number.numerator // number.denominator for number in numbers})
    stride = _stride(wholes)
    phase = Counter(whole % stride for whole in wholes).most_common(1)[0][0]
    counts = Counter(number % 1 for number in set(numbers) if number.denominator != 1)
    parts = sorted(part for part, count in counts.items() if 2 * count >= len(wholes) - 1)
    return NumberGrid(stride, phase, (Fraction(0), *parts))


def _stride(wholes: Sequence[int]) -> int:
    differences = Counter(after - before for before, after in pairwise(wholes))
    if not differences:
        return 1
    common, count = min(differences.items(), key=lambda item: (-item[1], item[0]))
    if count == 1:
        return 1
    mostly = count >= REGULAR_SHARE * differences.total()
    if mostly or all(difference % common == 0 for difference in differences):
        return common
    return gcd(*differences)
