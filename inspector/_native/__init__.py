"""The native core: the inner loops of reading and measuring, in C, where the optional extension module was built.

`core` is that module, and `active` says whether to call it; if not, each caller takes its NumPy path, which gives the
same results. The functions here give the C functions their buffers. All of them run without the interpreter lock.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

_INTERFACE = 2
"""INTERFACE of module.c: in a clone, a module built before the functions changed would give wrong values or fail."""

try:
    from inspector._native import _core as core
except ImportError:
    _BUILT = _FITS = False
else:
    _BUILT, _FITS = True, getattr(core, "INTERFACE", 0) == _INTERFACE

SWITCH = "MESHQC_NATIVE"
"""Environment variable; "0" forces the NumPy path, for tests and comparisons."""

active = _FITS and os.environ.get(SWITCH) != "0"
"""Whether the native core is there and wanted."""

_MOST_POWER = 64  # of ten; every float32 written with 17 digits is within, since 1e-45 is 17 digits times 1e-61


def description() -> str:
    """Which path runs, in a few words for `--version`."""
    if active:
        return "native core"
    if _BUILT and not _FITS:
        return "NumPy only, the native core is of another version: build it again"
    return f"NumPy only, {SWITCH}=0" if _BUILT else "NumPy only, the native core was not built"


@dataclass(frozen=True, slots=True, eq=False)
class NumberRun:
    """Consecutive lines of equally many numbers.

    Attributes:
        values: (n, columns) float64.
        decimals: the most digits after the point, exponents counted in, at least 0.
        stop: where the first line that is not part of the run begins.
    """

    values: npt.NDArray[np.float64]
    decimals: int
    stop: int


def read_numbers(text: bytes | memoryview, start: int, keyword: bytes, columns: int, most: int) -> NumberRun:
    """Read lines of `keyword` and `columns` finite numbers from `start` on, exactly as float() reads each number.

    Args:
        text: bytes; the last line may lack its end.
        start: where a line begins.
        keyword: the first word of each line.
        columns: numbers in each line.
        most: lines to read at most.

    Returns:
        The run, which ends before the first line of another form and may be empty.
    """
    values = np.empty((most, columns))
    doubts = np.empty((most * columns, 3), np.int64)
    rows, stop, decimals, in_doubt = core.read_numbers(text, start, keyword, columns, powers(), values, doubts)
    if rows < most // 2:  # don't hold memory for lines that were not read
        values = values[:rows].copy()
    flat = values.reshape(-1)
    for index, begin, end in doubts[:in_doubt].tolist():
        flat[index] = float(bytes(text[begin:end]))
    return NumberRun(values[:rows], decimals, stop)


@dataclass(frozen=True, slots=True, eq=False)
class CornerRun:
    """Consecutive faces whose corners are all of one form.

    Attributes:
        offsets: (n + 1,) int64; face i has the corners `offsets[i]:offsets[i + 1]`.
        v, vt, vn: (c,) int32, indices as written; vt and vn None where no corner has one.
        stop: where the first line that is not part of the run begins.
    """

    offsets: npt.NDArray[np.int64]
    v: npt.NDArray[np.int32]
    vt: npt.NDArray[np.int32] | None
    vn: npt.NDArray[np.int32] | None
    stop: int


def read_faces(text: bytes | memoryview, start: int, keyword: bytes, size: int, most: tuple[int, int]) -> CornerRun:
    """Read lines of `keyword` and corners from `start` on; see read_numbers.

    Args:
        text: bytes; the last line may lack its end.
        start: where a line begins.
        keyword: the first word of each line.
        size: corners of a face at most; the least is 3.
        most: lines and corners to read at most.

    Returns:
        The run, which ends before the first line of another form and may be empty.
    """
    offsets = np.zeros(most[0] + 1, np.int64)
    v, vt, vn = (np.empty(most[1], np.int32) for _ in range(3))
    faces, corners, stop, has_vt, has_vn = core.read_faces(text, start, keyword, size, v, vt, vn, offsets[1:])
    v, vt, vn = (slot[:corners].copy() if corners < most[1] // 2 else slot[:corners] for slot in (v, vt, vn))
    return CornerRun(offsets[: faces + 1], v, vt if has_vt else None, vn if has_vn else None, stop)


@dataclass(frozen=True, slots=True)
class Special:
    """Which bytes a text has that need care.

    Attributes:
        nul: whether there is a NUL.
        carriage_return: whether there is a carriage return.
        backslash: whether there is a backslash.
        beyond_ascii: whether there is a byte above 127.
    """

    nul: bool
    carriage_return: bool
    backslash: bool
    beyond_ascii: bool


def find_special(text: bytes) -> Special:
    """Look for all of them in one pass."""
    if active:
        flags = core.find_special(text)
        return Special(*(bool(flags & bit) for bit in (1, 2, 4, 8)))
    return Special(b"\0" in text, b"\r" in text, b"\\" in text, not text.isascii())


def is_same(one: npt.NDArray[np.generic], other: npt.NDArray[np.generic]) -> bool:
    """Whether two contiguous arrays of one shape and type hold the same bytes."""
    if active:
        return core.is_same(one, other)
    return bool(np.array_equal(one.view(np.uint8), other.view(np.uint8)))


@lru_cache(maxsize=1)
def powers() -> bytes:
    """Powers of five as 128 leading bits, the upper half first: truncated, but from 5^-27 to 5^-1 rounded up, so that
    the product of an exact quotient and its divisor is not just below it (Lemire 2021, section 5)."""
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
    """The z-buffer: `find_owners` of pictures.c, with its arrays as C wants them in memory."""
    core.find_owners(*map(np.ascontiguousarray, triangles), owner, nearest, width)


def resolve(*given: npt.NDArray[np.generic], picture: npt.NDArray[np.uint8], factor: int) -> None:
    """Colours of a picture: `resolve` of pictures.c, with its arrays as C wants them in memory."""
    core.resolve(*map(np.ascontiguousarray, given), picture, picture.shape[1], factor)
