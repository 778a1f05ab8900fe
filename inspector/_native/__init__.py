"""The native core: the inner loops of reading, measuring and drawing, written in C. It is optional.

Without it (see `active`), the callers use NumPy, with the same results. A C function releases the interpreter lock if
its work takes longer than releasing the lock.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

_INTERFACE = 4
"""The value that INTERFACE in module.c must have. A module with a different value was built from different C functions,
and is not used.
"""

try:
    from inspector._native import _core as core
except ImportError:
    _BUILT = _FITS = False
else:
    _BUILT, _FITS = True, getattr(core, "INTERFACE", 0) == _INTERFACE

SWITCH = "MESHQC_NATIVE"
"""Environment variable. If its value is "0", NumPy is used instead of the native core, for tests and comparisons."""

active = _FITS and os.environ.get(SWITCH) != "0"
"""Whether the native core is used: it was built, fits this package, and is not switched off."""

_MOST_POWER = 64  # exponent of ten; enough for a float32 with 17 digits: 1e-45 is a 17-digit integer times 1e-61

_FEW_DOUBTS = 1024
"""Minimum size of the buffer for numbers whose rounding is in doubt. Such numbers are rare, and a buffer for all
numbers would take three times the memory of the values.
"""


def description() -> str:
    """Describe in a few words whether the native core or NumPy is used, and why."""
    if active:
        return "native core"
    if _BUILT and not _FITS:
        return "NumPy only: the native core was built for a different version of meshqc; build it again"
    return f"NumPy only: {SWITCH} is 0" if _BUILT else "NumPy only: the native core was not built"


@dataclass(frozen=True, slots=True, eq=False)
class NumberRun:
    """Consecutive lines with the same count of numbers.

    Attributes:
        values: The numbers, (n, columns) float64.
        decimals: Maximum number of decimal places, after exponents are applied; at least 0.
        stop: Byte at which the next line begins.
    """

    values: npt.NDArray[np.float64]
    decimals: int
    stop: int


def read_numbers(text: bytes | memoryview, start: int, keyword: bytes, columns: int, most: int) -> NumberRun:
    """Read consecutive lines of numbers. Each number has the value that `float` returns.

    Args:
        text: The bytes of the file. The last line need not have a line ending.
        start: Byte at which a line begins.
        keyword: First word of each line.
        columns: Count of numbers in each line.
        most: Maximum number of lines to read.

    Returns:
        The run, which may be empty. It ends before the first line in a different form, after `most` lines, or when the
        buffer for numbers whose rounding is in doubt is full.
    """
    values = np.empty((most, columns))
    doubts = np.empty((max(_FEW_DOUBTS, most * columns // 8), 3), np.int64)  # with more doubts, the run ends
    rows, stop, decimals, in_doubt = core.read_numbers(text, start, keyword, columns, powers(), values, doubts)
    if rows < most // 2:  # free the memory for lines that were not read
        values = values[:rows].copy()
    flat = values.reshape(-1)
    for index, begin, end in doubts[:in_doubt].tolist():
        flat[index] = float(bytes(text[begin:end]))
    return NumberRun(values[:rows], decimals, stop)


@dataclass(frozen=True, slots=True, eq=False)
class CornerRun:
    """Consecutive faces whose corners all have the same form.

    Attributes:
        offsets: Index of the first corner of each face, followed by the total number of corners, (n + 1,) int64.
        v: Vertex indices as written, (c,) int32.
        vt: UV indices as written, (c,) int32; None if no corner has a UV.
        vn: Normal indices as written, (c,) int32; None if no corner has a normal.
        stop: Byte at which the next line begins.
    """

    offsets: npt.NDArray[np.int64]
    v: npt.NDArray[np.int32]
    vt: npt.NDArray[np.int32] | None
    vn: npt.NDArray[np.int32] | None
    stop: int


def read_faces(text: bytes | memoryview, start: int, keyword: bytes, size: int, most: tuple[int, int]) -> CornerRun:
    """Read consecutive lines of faces.

    Args:
        text: The bytes of the file. The last line need not have a line ending.
        start: Byte at which a line begins.
        keyword: First word of each line.
        size: Maximum number of corners of a face; the minimum is 3.
        most: Two limits: the maximum number of lines to read, and the maximum total number of corners.

    Returns:
        The run, which may be empty. It ends before the first line in a different form, or when a limit is reached.
    """
    offsets = np.zeros(most[0] + 1, np.int64)
    v, vt, vn = (np.empty(most[1], np.int32) for _ in range(3))
    faces, corners, stop, has_vt, has_vn = core.read_faces(text, start, keyword, size, v, vt, vn, offsets[1:])
    v, vt, vn = (slot[:corners].copy() if corners < most[1] // 2 else slot[:corners] for slot in (v, vt, vn))
    return CornerRun(offsets[: faces + 1], v, vt if has_vt else None, vn if has_vn else None, stop)


@dataclass(frozen=True, slots=True)
class Special:
    """Whether a text contains bytes that need special treatment.

    Attributes:
        nul: Whether the text contains a NUL.
        carriage_return: Whether the text contains a carriage return.
        backslash: Whether the text contains a backslash.
        beyond_ascii: Whether the text contains a byte above 127.
    """

    nul: bool
    carriage_return: bool
    backslash: bool
    beyond_ascii: bool


def find_special(text: bytes) -> Special:
    if active:
        flags = core.find_special(text)
        return Special(*(bool(flags & bit) for bit in (1, 2, 4, 8)))
    return Special(b"\0" in text, b"\r" in text, b"\\" in text, not text.isascii())


def is_same(one: npt.NDArray[np.generic], other: npt.NDArray[np.generic]) -> bool:
    """Whether two contiguous arrays of the same shape and dtype hold the same bytes."""
    if active:
        return core.is_same(one, other)
    return bool(np.array_equal(one.view(np.uint8), other.view(np.uint8)))


@lru_cache(maxsize=1)
def powers() -> bytes:
    """Return the leading 128 bits of the powers from 5^-64 to 5^64 (Lemire 2021, section 5).

    Each power consists of two uint64, the upper half first. The bits are truncated, except that the powers from 5^-27
    to 5^-1 are rounded up, because exact quotients would otherwise be slightly too small.
    """
    words: list[int] = []
    for power in range(-_MOST_POWER, _MOST_POWER + 1):
        five = 5 ** abs(power)
        if power >= 0:
            bits = five << 128 >> five.bit_length()
        else:
            bits = (1 << (five.bit_length() + 127)) // five + (power >= -27)
        words += [bits >> 64, bits & (1 << 64) - 1]
    return np.array(words, np.uint64).tobytes()


def find_owners(
    *triangles: npt.NDArray[np.generic],
    owner: npt.NDArray[np.int32],
    nearest: npt.NDArray[np.float64],
    width: int,
) -> None:
    """Find the nearest triangle at each pixel (z-buffer), and write the result to `owner` and `nearest`.

    Args:
        *triangles: The first six arguments of `core.find_owners`, contiguous or not.
        owner: Index of the triangle at each pixel, (h * width,).
        nearest: Nearness of that triangle (see `picture.fragments`), (h * width,).
        width: Number of pixels in a row.
    """
    core.find_owners(*map(np.ascontiguousarray, triangles), owner, nearest, width)


def resolve(*given: npt.NDArray[np.generic], picture: npt.NDArray[np.uint8], factor: int) -> None:
    """Compute the colours of a picture, and write them to `picture`.

    Args:
        *given: The first seven arguments of `core.resolve`, contiguous or not.
        picture: Red, green and blue, (h, w, 3). Pixels without a triangle keep their colours.
        factor: Number of samples along each side of a pixel, 1 to 4.
    """
    core.resolve(*map(np.ascontiguousarray, given), picture, picture.shape[1], factor)
