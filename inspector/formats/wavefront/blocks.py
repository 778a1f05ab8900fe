"""Split text into blocks: runs of consecutive lines with the same keyword.

Only blocks that differ from the corresponding block of the previous frame are searched for line endings, because
comparing blocks is ten times as fast as searching them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from inspector import _native
from inspector.formats.frame import Block
from inspector.formats.wavefront.statements import BLANK, BYTE_ORDER_MARK, COMMENT

_KEYWORD = re.compile(rb"[ \t]*([^ \t\r\n]*)")
_FIRST_PIECE = 1 << 13  # bytes to search at first; the number grows, so short runs cost little and long runs are fast
_LARGEST_PIECE = 1 << 18

Bytes = npt.NDArray[np.uint8]
FindRun = Callable[[int, Block], tuple[int, int] | None]
"""A function that finds the end of a run of lines.

The arguments are the position at which the run begins, and the corresponding block of the previous frame, whose keyword
is the same. The function returns the position after the run and the number of lines in the run, or None if the run must
be searched line by line.
"""


def keyword_at(text: bytes, start: int) -> bytes:
    """Return the keyword of the line that begins at byte `start`; b"" for a blank line, b"#" for a comment."""
    match = _KEYWORD.match(text, start)
    word = match.group(1) if match else BLANK
    return COMMENT if word.startswith(COMMENT) else word


def split_blocks(
    text: bytes, before: bytes = b"", blocks_before: Sequence[Block] = (), find_run: FindRun | None = None
) -> tuple[list[Block], list[int | None]]:
    """Split a text into blocks, which cover each of its bytes exactly once.

    Args:
        text: The text.
        before: Text of the previous frame.
        blocks_before: Blocks of the previous frame.
        find_run: Finds the end of a run that differs from the previous frame; None to search line by line.

    Returns:
        The blocks, and for each block the index of the equal block of the previous frame, or None.
    """
    octets, octets_before = np.frombuffer(text, np.uint8), np.frombuffer(before, np.uint8)
    blocks: list[Block] = []
    equals: list[int | None] = []
    position, line = 0, 1
    if text.startswith(BYTE_ORDER_MARK):
        blocks.append(Block(BYTE_ORDER_MARK, 0, 3, 1, 0))
        equals.append(None)
        position = 3
    while position < len(text):
        keyword = keyword_at(text, position)
        equal, run = None, None
        old = blocks_before[len(blocks)] if len(blocks) < len(blocks_before) else None
        if old is not None and old.keyword == keyword:
            if _repeats(text, octets, position, octets_before, old):
                equal, run = len(blocks), (position + old.stop - old.start, old.lines)
            elif find_run is not None:
                run = find_run(position, old)
        stop, lines = run or _run(text, octets, position, keyword)
        blocks.append(Block(keyword, position, stop, line, lines))
        equals.append(equal)
        position, line = stop, line + lines
    return blocks, equals


def _repeats(text: bytes, octets: Bytes, position: int, octets_before: Bytes, old: Block) -> bool:
    """Return whether `old`, a block of the previous text, occurs again at `position` and is not followed by another
    line with the block's keyword.
    """
    stop = position + old.stop - old.start
    if stop > len(text) or text[stop - 1] != 10:
        return False
    if stop < len(text) and keyword_at(text, stop) == old.keyword:
        return False
    # The last bytes differ more often than the first, so they are compared first.
    tail = min(4096, stop - position)
    if not _native.is_same(octets[stop - tail : stop], octets_before[old.stop - tail : old.stop]):
        return False
    return _native.is_same(octets[position:stop], octets_before[old.start : old.stop])


def _run(text: bytes, octets: Bytes, position: int, keyword: bytes) -> tuple[int, int]:
    """Find the end of a run of lines with the same keyword. Return the position after the run, and the line count."""
    if _native.active:
        return _native.core.find_run(text, position, keyword)
    stop = text.find(b"\n", position) + 1
    if stop == 0:
        return len(text), 1
    lines = 1
    while stop < len(text) and keyword_at(text, stop) == keyword:
        more, stop = _plain_lines(octets, stop, keyword)
        if more == 0:  # indented, or the last line without an end: find the end of this line alone
            end = text.find(b"\n", stop) + 1
            more, stop = 1, end or len(text)
        lines += more
    return stop, lines


def _plain_lines(octets: Bytes, start: int, keyword: bytes) -> tuple[int, int]:
    """Starting at byte `start`, count the consecutive complete lines that begin with the keyword and a space or tab
    (see `_begins_with`). Return the number of these lines, and the position after the last of them.
    """
    lines, size = 0, _FIRST_PIECE
    while start < len(octets):
        piece = octets[start : start + size]
        ends = np.flatnonzero(piece == 10)
        if not len(ends):
            if start + size >= len(octets):
                break
            size *= 4
            continue
        starts = np.empty_like(ends)
        starts[0], starts[1:] = 0, ends[:-1] + 1
        other = np.flatnonzero(~_begins_with(piece, starts, ends, keyword))
        if len(other):
            return lines + int(other[0]), start + int(starts[other[0]])
        lines, start = lines + len(ends), start + int(ends[-1]) + 1
        size = min(size * 4, _LARGEST_PIECE)
    return lines, start


def _begins_with(
    piece: Bytes, starts: npt.NDArray[np.intp], ends: npt.NDArray[np.intp], keyword: bytes
) -> npt.NDArray[np.bool_]:
    """Return whether each line of the piece begins with the keyword and a space or tab.

    If the keyword is `#`, no space or tab need follow it. If the keyword is empty, the line must be empty.
    """
    if keyword == BLANK:
        return np.asarray(ends == starts)
    fits: npt.NDArray[np.bool_] = ends - starts >= len(keyword)
    for offset, octet in enumerate(keyword):
        fits &= piece[np.minimum(starts + offset, ends)] == octet
    if keyword != COMMENT:
        behind = piece[np.minimum(starts + len(keyword), ends)]
        fits &= (behind == 32) | (behind == 9)
    return fits
