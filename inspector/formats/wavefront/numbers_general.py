"""Read numbers of any length and form, a whole piece at a time. Each line must have the same count of numbers.

Up to 30 digits become an integer, which is multiplied by a power of ten and correctly rounded. Longer numbers, and
numbers whose rounding is uncertain, are read by float().
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Flags, Floats
from inspector.formats.wavefront import exact_scale
from inspector.formats.wavefront.digit_words import (
    Bytes,
    Positions,
    digit_flags,
    first_digits,
    last_digits,
    padded,
    word_at,
)

_WHOLE_DIGITS = 7  # together with 8 decimal places, this is an integer below 2^53
_FRACTION_DIGITS = 23  # 8 + 8 + 7
_EXPONENT_DIGITS = 8


@dataclass(slots=True)
class _Tokens:
    """The parts of n numbers in a text. Each array has the shape (n,).

    Attributes:
        starts: First byte of the number.
        ends: The byte after the last byte of the number.
        negative: Whether there is a minus sign.
        point: The byte of the decimal point or, without a point, the byte after the digits.
        whole: Number of digits before the point.
        fraction: Number of digits after the point.
        exponent: Value of the exponent; 0 if there is none.
    """

    starts: Positions
    ends: Positions
    negative: Flags
    point: Positions
    whole: Positions
    fraction: Positions
    exponent: Positions


def read_general(piece: bytes, keyword: bytes) -> tuple[Floats, int] | None:
    """Read the numbers of whole lines.

    Args:
        piece: The lines, including their line endings.
        keyword: First word of each line.

    Returns:
        The numbers, (n, c) float64, and the maximum number of decimal places. None if a line is blank or contains
        anything but finite numbers, if the lines have different counts of numbers, or if an exponent has more than 8
        digits.
    """
    text = padded(piece)
    bounds = _token_bounds(text, keyword, len(piece.partition(b"\n")[0].split()) - 1)
    if bounds is None:
        return None
    starts, ends = bounds
    tokens = _cut(text, starts.ravel(), ends.ravel())
    if tokens is None:
        return None
    values = _values(text, tokens)
    decimals = int((tokens.fraction - tokens.exponent).max())
    return (values.reshape(starts.shape), max(decimals, 0)) if np.isfinite(values).all() else None


def _token_bounds(text: Bytes, keyword: bytes, columns: int) -> tuple[Positions, Positions] | None:
    """Find the words after the keyword of each line.

    Returns:
        First byte of each word, and the byte after its last byte, each (n, columns). None unless each line consists of
        the keyword and `columns` words.
    """
    newline = text == ord("\n")
    blank = newline | (text == ord(" ")) | (text == ord("\t")) | (text == ord("\r"))
    edges = np.flatnonzero(blank[1:] != blank[:-1]) + 1
    if columns < 1 or len(edges) % (2 * columns + 2):
        return None
    starts, ends = edges[0::2].reshape(-1, columns + 1), edges[1::2].reshape(-1, columns + 1)
    lines = np.flatnonzero(newline)
    if len(lines) != len(starts) or (ends[:, -1] > lines).any() or (starts[1:, 0] < lines[:-1]).any():
        return None
    if (ends[:, 0] - starts[:, 0] != len(keyword)).any():
        return None
    if any((text.take(starts[:, 0] + place) != byte).any() for place, byte in enumerate(keyword)):
        return None
    return starts[:, 1:], ends[:, 1:]


def _cut(text: Bytes, starts: Positions, ends: Positions) -> _Tokens | None:
    """Split each of the words, (n,), into the parts of a number. Return None if a word is not a number, or if its
    exponent has more than 8 digits.
    """
    negative, begins = _after_sign(text, starts)
    mantissa_ends = ends.copy()
    exponent: Positions = np.zeros(len(starts), np.int64)
    exponent_digits = 0
    marks = np.flatnonzero((text | np.uint8(0x20)) == ord("e"))
    if len(marks):
        owners = _owners(marks, begins, ends)
        if owners is None:
            return None
        mantissa_ends[owners] = marks
        below, digits_from = _after_sign(text, marks + 1)
        counts = ends[owners] - digits_from
        if counts.min() < 1 or counts.max() > _EXPONENT_DIGITS:
            return None
        exponent_digits = int(counts.sum())
        read = last_digits(word_at(text, ends[owners] - 8), counts)
        exponent[owners] = np.where(below, -read, read)
    dots = np.flatnonzero(text == ord("."))
    owners = _owners(dots, begins, mantissa_ends)
    if owners is None:
        return None
    point = mantissa_ends.copy()
    point[owners] = dots
    whole = point - begins
    fraction = mantissa_ends - point
    fraction[owners] -= 1
    # All bytes except signs, points and exponent marks must be digits. This is the case if the counts agree.
    digits = whole.sum() + fraction.sum() + exponent_digits
    if (whole + fraction).min() < 1 or digits != np.count_nonzero(digit_flags(text)):
        return None
    return _Tokens(starts, ends, negative, point, whole, fraction, exponent)


def _after_sign(text: Bytes, at: Positions) -> tuple[Flags, Positions]:
    """Skip the plus or minus sign at each position, if there is one.

    Returns:
        For each position, whether there is a minus sign, (n,); and the next position if there is a sign, or the same
        position if there is no sign, (n,).
    """
    first = text.take(at)
    negative = first == ord("-")
    return negative, at + (negative | (first == ord("+")))


def _owners(marks: Positions, begins: Positions, ends: Positions) -> Positions | None:
    """For each mark (a decimal point or an e), return the index of the word that contains it. Return None if a mark is
    not in a word, or if two marks are in the same word.
    """
    if len(marks) == len(begins):
        owners: Positions = np.arange(len(marks))
    else:
        owners = np.searchsorted(begins, marks, side="right") - 1
        if len(marks) and (owners[0] < 0 or (owners[1:] == owners[:-1]).any()):
            return None
    inside = (begins[owners] <= marks) & (marks < ends[owners])
    return owners if inside.all() else None


def _values(text: Bytes, tokens: _Tokens) -> Floats:
    long = (tokens.whole > _WHOLE_DIGITS) | (tokens.fraction > _FRACTION_DIGITS)
    front = last_digits(word_at(text, tokens.point - 8), np.minimum(tokens.whole, 8)) * 10**8
    front += first_digits(word_at(text, tokens.point + 1), np.minimum(tokens.fraction, 8))
    longest = int(tokens.fraction.max())
    if longest <= 8 and not tokens.exponent.any():
        values = front / 1e8
    else:
        back, shift = _further_decimals(text, tokens, longest)
        power = tokens.exponent - (8 + shift)
        long |= (power < exact_scale.LEAST_POWER) | (power > exact_scale.MOST_POWER)
        power = power.clip(exact_scale.LEAST_POWER, exact_scale.MOST_POWER)
        values, upper = exact_scale.scaled(front.astype(np.float64), back, shift, power)
        long |= values != upper
    values *= np.where(tokens.negative, -1.0, 1.0)  # gives -0.0 as well
    for token in np.flatnonzero(long).tolist():
        values[token] = float(text[tokens.starts[token] : tokens.ends[token]].tobytes())
    return values


def _further_decimals(text: Bytes, tokens: _Tokens, longest: int) -> tuple[Floats, int]:
    """Read each number's digits after the decimal point, beginning with the ninth digit, as an integer.

    Return the integers, (n,) float64, and the number of digits in each of them: 0, 8 or 15. Missing digits count as
    zeros.
    """
    back: npt.NDArray[np.int64] = np.zeros(len(tokens.point), np.int64)
    if longest <= 8:
        return back.astype(np.float64), 0
    back += first_digits(word_at(text, tokens.point + 9), (tokens.fraction - 8).clip(0, 8))
    if longest <= 16:
        return back.astype(np.float64), 8
    seven = first_digits(word_at(text, tokens.point + 17), (tokens.fraction - 16).clip(0, 7)) // 10
    return (back * 10**7 + seven).astype(np.float64), 15
