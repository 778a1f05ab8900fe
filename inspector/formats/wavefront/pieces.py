"""Read the text of a block in pieces of whole lines, so that the arrays of each piece stay in the processor's cache."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeVar

import numpy as np

LINE_BYTES = 24_000_000
"""Maximum length of a line of numbers or corners, in bytes. A frame with a longer line is unreadable. A face of a
million corners fits if its indices have six digits.
"""

Table = TypeVar("Table")
Span = bytes | memoryview
"""A text, or a view of part of a text."""

_PIECE = 1 << 18
"""Number of bytes in one piece: small enough for the cache, and large enough to keep the number of calls low."""
SMALL = 1 << 9
"""Number of bytes below which reading line by line is faster than setting up whole arrays."""
_ODD_PIECE = SMALL * 8
"""Number of bytes to read line by line after a fast reader has stopped; doubled if it stops again soon."""
_SHARE = 8
"""Number of parts into which a piece is cut if the fast reader can't read it, so that an irregular line slows down only
one part.
"""


class LongLine(Exception):
    """A line is longer than LINE_BYTES.

    Attributes:
        line: Index of the line in the block, from 0.
    """

    def __init__(self, line: int) -> None:
        super().__init__(line)
        self.line = line


def read_pieces(
    text: bytes, fast: Callable[[bytes], Table | None], slow: Callable[[bytes], Table], size: int = _PIECE
) -> Iterator[tuple[Table, int]]:
    """Read a text piece by piece.

    Args:
        text: Whole lines; the last need not have a line ending.
        fast: Reads a piece, or returns None if it can't.
        slow: Reads any piece.
        size: Maximum number of bytes in a piece. A longer line is a piece by itself.

    Yields:
        The table of each piece, and its number of physical lines.

    Raises:
        LongLine: A line is longer than LINE_BYTES.
    """
    line = 0
    for piece in _cut(text, size):
        lines = _lines(piece)
        line += lines
        if len(piece) > size:  # one line
            if len(piece) > LINE_BYTES:
                raise LongLine(text.count(b"\n", 0, text.find(piece[:size])))
            yield slow(piece), lines
            continue
        table = fast(piece)
        if table is None and size > SMALL * _SHARE:
            yield from read_pieces(piece, fast, slow, size // _SHARE)
        else:
            yield slow(piece) if table is None else table, lines


def read_runs(
    text: Span, fast: Callable[[int], tuple[Table | None, int, int]], slow: Callable[[bytes], Table]
) -> Iterator[tuple[Table, int]]:
    """Read a text with a fast reader that determines by itself how far it can read.

    Wherever the fast reader stops, `slow` reads the next piece. The pieces for `slow` grow if the fast reader reads
    little text between them.

    Args:
        text: Whole lines; the last need not have a line ending.
        fast: Reads from a given byte on. Returns the table (None if nothing can be read), the table's number of
            physical lines, and the byte at which reading stopped.
        slow: Reads any piece.

    Yields:
        The table of each piece, and its number of physical lines.

    Raises:
        LongLine: A line is longer than LINE_BYTES.
    """
    start = line = 0
    size = _ODD_PIECE
    while start < len(text):
        table, lines, stop = fast(start)
        if table is not None:
            yield table, lines
        line += lines
        size = _ODD_PIECE if stop - start > size else min(2 * size, _PIECE)
        start = stop
        if start == len(text):
            return
        piece = _piece_at(text, start, size)
        if len(piece) > LINE_BYTES:
            raise LongLine(line)
        lines = _lines(piece)
        yield slow(piece), lines
        line += lines
        start += len(piece)


def first_line(text: Span, start: int) -> bytes:
    """Return the line that begins at byte `start`, without its line ending. A line that is too long for the fast
    readers is cut off.
    """
    some = bytes(text[start : start + SMALL])
    return (some if b"\n" in some else bytes(text[start : start + _PIECE])).partition(b"\n")[0]


def _piece_at(text: Span, start: int, size: int) -> bytes:
    """Copy whole lines from `start` on: at most `size` bytes, or a single longer line. The copy ends in a newline."""
    some = bytes(text[start : start + size])
    stop = some.rfind(b"\n") + 1
    while not stop and start + len(some) < len(text):
        size *= _SHARE
        some = bytes(text[start : start + size])
        stop = some.find(b"\n") + 1
    return some[:stop] if stop else some + b"\n"


def _lines(piece: bytes) -> int:
    """Count physical lines. For short lines, NumPy is ten times as fast as bytes.count."""
    return int(np.count_nonzero(np.frombuffer(piece, np.uint8) == ord("\n")))


def _cut(text: bytes, size: int) -> Iterator[bytes]:
    """Yield consecutive pieces of at most `size` bytes. A longer line is a piece by itself. Each piece ends in a
    newline.
    """
    start = 0
    while start < len(text):
        stop = text.rfind(b"\n", start, start + size) + 1 or text.find(b"\n", start) + 1
        if not stop:
            yield text[start:] + b"\n"
            return
        yield text[start:stop]
        start = stop
