"""Write arrays of numbers and corners as lines of text. At first, all lines have the same width; then the bytes that
are not needed are removed.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.arrays import Flags, Floats, Indices, SmallIndices
from inspector.formats.wavefront.digit_words import Bytes
from inspector.formats.wavefront.exact_scale import rounded_multiples

_Unsigned = npt.NDArray[np.unsignedinteger[Any]]

_ROWS = 1 << 13
"""Number of rows or corners to lay out in one batch, which fits in the processor's cache."""
_EXACT_INTEGERS = 10**15
_MOST_DECIMALS = 22  # 10^22 is the largest power of ten that is exact in float64

_TOGETHER = (4, 2, 1)
"""Sizes of the groups in which digits are written, the largest first. A group is one machine word, with one byte per
digit."""


@cache
def _spelled(count: int) -> _Unsigned:
    """Return the text of each number below 10^count as one machine word of `count` digits, with leading zeros."""
    return np.frombuffer(b"".join(b"%0*d" % (count, number) for number in range(10**count)), f"u{count}")


def format_rows(keyword: bytes, values: Floats, decimals: int, newline: bytes = b"\n") -> bytes:
    """Write lines `keyword x y z`, with each number as in Python's '%.*f'.

    Args:
        keyword: First word of each line.
        values: The numbers, (n, c) float64.
        decimals: Number of decimal places.
        newline: Line ending.
    """
    parts = (values[start : start + _ROWS] for start in range(0, len(values), _ROWS))
    return b"".join(_rows(keyword, part, decimals, newline) for part in parts)


def _rows(keyword: bytes, values: Floats, decimals: int, newline: bytes) -> bytes:
    most = float(np.abs(values).max(initial=0.0))  # NaN if any value is NaN
    if decimals > _MOST_DECIMALS or not most * 10.0**decimals < _EXACT_INTEGERS:
        line: bytes = keyword + b" %%.%df" % decimals * values.shape[1] + newline
        lines: bytes = line * len(values) % tuple(values.ravel().tolist())
        return lines
    scaled = rounded_multiples(np.abs(values), decimals)
    whole = len(str(int(scaled.max(initial=0)) // 10**decimals))
    cell = b" -" + b"0" * whole + (b"." + b"0" * decimals if decimals else b"")
    sheet = _Sheet(len(values), keyword + cell * values.shape[1] + newline)
    for column in range(values.shape[1]):
        at = len(keyword) + column * len(cell) + 1
        sheet.keep[:, at] = np.signbit(values[:, column])
        rest = _narrow(scaled[:, column])
        if decimals:
            rest = sheet.put_digits(rest, at + 2 + whole, decimals)
        sheet.put_number(rest, at + 1, whole)
    return sheet.text()


def format_faces(
    offsets: Indices,
    v: SmallIndices,
    vt: SmallIndices,
    vn: SmallIndices,
    newline: bytes = b"\n",
    keyword: bytes = b"f",
) -> bytes:
    """Write lines `keyword 1/1/1 2/2/2 ...`. The form of each corner fits its indices: v, v/vt, v//vn or v/vt/vn.

    Args:
        offsets: Index of the first corner of each face, followed by the total number of corners, (f + 1,) int64.
        v: Vertex index of each corner, from 0, (c,) int32.
        vt: UV index of each corner, from 0, (c,) int32; -1 if the corner has no UV.
        vn: Normal index of each corner, from 0, (c,) int32; -1 if the corner has no normal.
        newline: Line ending.
        keyword: First word of each line.
    """
    empty = np.diff(offsets) == 0
    first = np.zeros(len(v), np.bool_)
    first[offsets[:-1][~empty]] = True
    parts = (slice(start, start + _ROWS) for start in range(0, len(v), _ROWS))
    text = b"".join(_corners(newline + keyword, first[part], v[part], vt[part], vn[part]) for part in parts)
    lines = [text[len(newline) :]] if text else []
    if empty.any():
        lines = text.split(newline)[1:]
        for face in np.flatnonzero(empty).tolist():
            lines.insert(face, keyword)
    return b"".join(line + newline for line in lines)


def _corners(head: bytes, first: Flags, v: SmallIndices, vt: SmallIndices, vn: SmallIndices) -> bytes:
    """Write corners as ` v/vt/vn`, with the text `head` before the first corner of each face. An index of -1 is not
    written.
    """
    slots = [_narrow(slot.astype(np.int64) + 1) for slot in (v, vt, vn)]
    has_vt, has_vn = slots[1] > 0, slots[2] > 0
    widths = [len(str(int(slot.max()))) for slot in slots]
    sheet = _Sheet(len(v), head + b" " + b"/".join(b"0" * width for width in widths))
    sheet.keep[:, : len(head)] = first[:, None]
    at = len(head) + 1
    sheet.put_number(slots[0], at, widths[0])
    at += widths[0] + 1
    sheet.keep[:, at - 1] = has_vt | has_vn
    sheet.put_number(slots[1], at, widths[1], has_vt)
    at += widths[1] + 1
    sheet.keep[:, at - 1] = has_vn
    sheet.put_number(slots[2], at, widths[2], has_vn)
    return sheet.text()


class _Sheet:
    """Lines of equal width, one byte per cell.

    Attributes:
        keep: Whether each cell is part of the text, (lines, width).
    """

    def __init__(self, lines: int, template: bytes) -> None:
        self._cells: Bytes = np.empty((lines, len(template)), np.uint8)
        self._cells[:] = np.frombuffer(template, np.uint8)
        self.keep: Flags = np.ones(self._cells.shape, np.bool_)

    def put_digits(self, numbers: _Unsigned, at: int, width: int) -> _Unsigned:
        """Write the last `width` digits of each number into the cells from `at` on. Return the numbers without these
        digits.
        """
        cell = at + width
        while cell > at:
            count = next(count for count in _TOGETHER if count <= cell - at)
            cell -= count
            rest = numbers // 10**count
            self._words(cell, count)[:] = _spelled(count).take((numbers - rest * 10**count).astype(np.intp))
            numbers = rest
        return numbers

    def put_number(self, numbers: _Unsigned, at: int, width: int, given: Flags | None = None) -> None:
        """Write the numbers, or only those that `given` flags, into the `width` cells from `at` on, without leading
        zeros.
        """
        for cell in range(at, at + width - 1):
            self.keep[:, cell] = numbers >= 10 ** (at + width - 1 - cell)
        if given is not None:
            self.keep[:, at + width - 1] = given
        self.put_digits(numbers, at, width)

    def _words(self, cell: int, count: int) -> _Unsigned:
        """In each line, view the `count` cells that begin at `cell` as one machine word. Return the words, (lines,)."""
        lines, width = self._cells.shape
        return np.ndarray((lines,), f"u{count}", self._cells.data, cell, (width,))

    def text(self) -> bytes:
        return self._cells.ravel().take(np.flatnonzero(self.keep)).tobytes()


def _narrow(numbers: npt.NDArray[np.int64]) -> _Unsigned:
    """Convert numbers to 32 bits if they fit, because division then takes half the time."""
    return numbers.astype(np.uint32 if numbers.max(initial=0) < 2**32 else np.uint64)
