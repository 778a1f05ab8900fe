"""Read lines that all have the same count of numbers, piece by piece to save memory."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats
from inspector.formats.wavefront.numbers import read_numbers
from inspector.formats.wavefront.pieces import LongLine

PIECE = 1 << 20
"""Number of bytes of text to read at a time."""
_KEYWORD = b"v"
"""The keyword that is inserted before each line, so that the line can be read as an OBJ vertex."""


def read_lines(text: bytes, start: int, rows: int) -> tuple[Floats, int] | None:
    r"""Read consecutive lines of numbers. Each number has the value that `float` returns.

    Args:
        text: The bytes of the file.
        start: Byte at which the first line begins.
        rows: Number of lines.

    Returns:
        The numbers, (rows, c) float64, and the byte after the last line. None if `rows` is 0, if there are too few
        lines, or if a line is irregular: it is blank, contains anything but finite numbers, differs from the first line
        in its count of numbers, ends in \r alone, or is longer than `PIECE`.
    """
    if not 0 < rows <= len(text) - start:
        return None
    columns = len(text[start : start + PIECE].partition(b"\n")[0].split())
    if not columns or 2 * rows * columns > len(text) - start + 1:  # a digit and a blank for each number
        return None
    table, filled = np.empty((rows, columns)), 0
    while filled < rows:
        piece = _whole_lines(text, start, rows - filled)
        body = piece.removesuffix(b"\n").replace(b"\n", b"\n%b " % _KEYWORD)
        try:
            read = read_numbers(b"%b %b\n" % (_KEYWORD, body), _KEYWORD, columns, columns)
        except LongLine:
            return None
        count = piece.count(b"\n") + (not piece.endswith(b"\n"))
        if not piece or not read.plain or read.columns is not None or len(read.values) != count:
            return None
        table[filled : filled + count] = read.values
        filled, start = filled + count, start + len(piece)
    return table, start


def _whole_lines(text: bytes, start: int, most: int) -> bytes:
    """Return up to `most` whole lines from `start` on; b"" if the first line is longer than `PIECE`."""
    stop = start + PIECE
    piece = text[start:stop] if stop >= len(text) else text[start : text.rfind(b"\n", start, stop) + 1]
    ends = np.flatnonzero(np.frombuffer(piece, np.uint8) == ord("\n"))
    return piece if len(ends) < most else piece[: int(ends[most - 1]) + 1]
