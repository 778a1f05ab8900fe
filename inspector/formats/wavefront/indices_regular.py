"""Read face lines without irregularities, a whole piece at a time. This is the fast path.

First, the order of digits, slashes, signs, white space and keywords is checked. Then the value of each number is
determined at the position of its last digit. The byte after that digit shows whether the corner also ends there.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.arrays import Flags, Indices
from inspector.formats.wavefront.digit_words import Bytes, Positions, digit_flags, padded
from inspector.formats.wavefront.face_table import NOT_GIVEN, FaceTable, Slots, face_table
from inspector.formats.wavefront.indices_plain import MANY_CORNERS

_NEWLINE, _SLASH, _MINUS = ord("\n"), ord("/"), ord("-")


def read_regular(piece: bytes, keyword: bytes, most: float = MANY_CORNERS.value) -> FaceTable | None:
    """Read complete face lines.

    Args:
        piece: The lines, including their line endings.
        keyword: First word of each line.
        most: Maximum number of corners of a face.

    Returns:
        The table. None if a line is blank or has any problem, or if an index has more than 8 digits.
    """
    text = padded(piece)
    digit, slash = digit_flags(text), text == _SLASH
    lines = int(np.count_nonzero(text == _NEWLINE))
    if not _only_faces(text, digit, slash, keyword, lines):
        return None
    ends = np.flatnonzero(digit[:-1] > digit[1:])
    numbers = _numbers(text, digit, ends)
    if numbers is None:
        return None
    behind = text[1:].take(ends)
    line_ends = np.flatnonzero(behind == _NEWLINE) + 1
    if len(line_ends) != lines:  # there are blanks before line ends
        line_ends = np.searchsorted(ends, np.flatnonzero(text == _NEWLINE))
    places = _places(slash, ends, behind == _SLASH)
    return None if places is None else _table(numbers, places, line_ends, most)


def _only_faces(text: Bytes, digit: Flags, slash: Flags, keyword: bytes, lines: int) -> bool:
    """Return whether all bytes are of known kinds, with one keyword per line, and slashes and signs at legal
    positions.
    """
    minus = text == _MINUS
    signs = np.count_nonzero(minus)
    known = np.count_nonzero(digit) + np.count_nonzero(slash) + signs + lines * (len(keyword) + 1)
    known += np.count_nonzero(text == ord(" "))
    if known != len(text):
        known += np.count_nonzero(text == ord("\t")) + np.count_nonzero(text == ord("\r"))
    if known != len(text) or any(np.count_nonzero(text == letter) != lines for letter in keyword):
        return False
    before_slash = digit | slash
    after_slash = before_slash
    if signs:
        if (minus[1:] & (digit | minus)[:-1]).any() or (minus[:-1] > digit[1:]).any():
            return False
        after_slash = before_slash | minus
    if (slash[1:] > before_slash[:-1]).any() or (slash[:-1] > after_slash[1:]).any():
        return False
    return not (slash[2:] & slash[1:-1] & slash[:-2]).any()


def _numbers(text: Bytes, digit: Flags, ends: Positions) -> Slots | None:
    """Read the signed number that ends at each position, (n,); None if a number has more than 8 digits."""
    one = digit.view(np.uint8)
    two = one[:-1] & one[1:]
    four = two[:-2] & two[2:]
    ones = text - np.uint8(ord("0"))
    ones *= one
    pairs = ones[:-1] * two
    pairs *= np.uint8(10)
    pairs += ones[1:]
    quads = np.multiply(pairs[:-2], two[2:] * np.uint8(100), dtype=np.uint16)
    quads += pairs[2:]
    numbers: Slots = quads.take(ends - 3).astype(np.int64)
    if (four[:-1] & one[4:]).any():
        eight = four[:-4] & four[4:]
        if (eight[:-1] & one[8:]).any():
            return None
        numbers += quads.take(ends - 7) * (four.take(ends - 3) * np.int64(10_000))
    signs = np.flatnonzero(text == _MINUS)
    if len(signs):
        numbers[np.searchsorted(ends, signs)] *= -1
    return numbers


def _places(slash: Flags, ends: Positions, joined: Flags) -> npt.NDArray[np.uint8] | None:
    """Determine what each number is the index of: a vertex, a UV or a normal.

    Returns:
        0 for v, 1 for vt, 2 for vn, (n,); None if a corner has more than three numbers.
    """
    step = joined.view(np.uint8) + (joined & slash[2:].take(ends))  # slots to the next number; 0 before a new corner
    places = np.zeros(len(ends), np.uint8)
    places[1:] = step[:-1]
    places[2:] += step[:-2] * joined[1:-1]
    if (joined[:-2] & joined[1:-1] & joined[2:]).any() or (places > 2).any():
        return None
    return places


def _table(numbers: Slots, places: npt.NDArray[np.uint8], line_ends: Positions, most: float) -> FaceTable | None:
    """Make the table of n numbers.

    Args:
        numbers: The numbers, (n,).
        places: 0 for v, 1 for vt, 2 for vn, (n,).
        line_ends: Count of numbers up to the end of each line, (f,).
        most: Maximum number of corners of a face.

    Returns:
        The table. None if there are no corners, if a face has fewer than 3 or more than `most` corners, or if the
        corners of a face have different forms.
    """
    first = places == 0
    corners = int(np.count_nonzero(first))
    if not corners:
        return None
    width = len(places) // corners
    slots: list[Slots] = [np.full(corners, NOT_GIVEN) for _ in range(3)]
    offsets: Indices = np.zeros(len(line_ends) + 1, np.int64)
    uniform = width * corners == len(places) and bool((places[width:] == places[:-width]).all())
    if uniform:
        for column, place in enumerate(places[:width].tolist()):
            slots[place][:] = numbers[column::width]
        offsets[1:] = line_ends // width
    else:
        count = np.cumsum(first)
        for place, slot in enumerate(slots):
            here = places == place
            slot[count[here] - 1] = numbers[here]
        offsets[1:] = np.append(0, count)[line_ends]
    sizes = np.diff(offsets)
    if sizes.min() < 3 or sizes.max() > most or not (uniform or _unmixed(slots, offsets, sizes)):
        return None
    return face_table(offsets, slots[0], slots[1], slots[2])


def _unmixed(slots: list[Slots], offsets: Indices, sizes: Indices) -> bool:
    form = (slots[1] != NOT_GIVEN) + 2 * (slots[2] != NOT_GIVEN)
    return np.array_equal(form, np.repeat(form[offsets[:-1]], sizes))
