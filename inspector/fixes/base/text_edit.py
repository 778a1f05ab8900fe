"""Change a frame's text by lines or blocks, where the arrays can't express the change."""

from __future__ import annotations

import re
from dataclasses import replace

from inspector.arrays import Flags, Indices
from inspector.formats.frame import Frame
from inspector.formats.wavefront.logical_text import block_spans, text_of
from inspector.formats.wavefront.reader import read_frame
from inspector.formats.wavefront.writer import write_frame

_LINE = re.compile(rb"([^\r\n]*)(\r?\n|\Z)")
_ENDS = re.compile(rb"\r\n|\n|\r")

Line = tuple[bytes, bytes]
"""The text of a line, and its line ending. The line ending is b"" if the line has none."""


def settled(frame: Frame) -> Frame:
    """Return the frame with all changes to its arrays written into its text."""
    if not frame.changed:
        return frame
    return replace(read_frame(write_frame(replace(frame, encoding=None))), encoding=frame.encoding)


class Draft:
    """The text of a frame, divided into blocks whose text can be replaced.

    Attributes:
        frame: The frame, with all changes to its arrays written into its text.
    """

    def __init__(self, frame: Frame) -> None:
        self.frame = settled(frame)
        self._text = text_of(self.frame)
        self._pieces = [self.frame.data[start:stop] for start, stop in block_spans(self.frame.data, self.frame.blocks)]

    def blocks(self, *keywords: bytes) -> list[int]:
        """Return the indices of the blocks with one of these keywords."""
        return [number for number, block in enumerate(self.frame.blocks) if block.keyword in keywords]

    def lines(self, number: int) -> list[Line]:
        """Return the lines of the block with index `number`, with their line endings.

        Each continued statement becomes one line.
        """
        block, lines = self.frame.blocks[number], []
        text, data = (whole[block.start : block.stop] for whole in (self._text, self.frame.data))
        if text == data and b"\r" not in text:  # the usual case; a block may have millions of lines
            *bodies, last = text.split(b"\n")
            return [(body, b"\n") for body in bodies] + ([(last, b"")] if last else [])
        for match in _LINE.finditer(self._text, block.start, block.stop):
            as_written = self.frame.data[match.start(2) : match.end(2)]
            if match.end() > match.start():
                lines.append((match[1], as_written if _ENDS.fullmatch(as_written) else match[2]))
        return lines

    def put(self, number: int, lines: list[Line]) -> None:
        """Replace the text of a block.

        Args:
            number: Index of the block.
            lines: The new lines.
        """
        self._pieces[number] = b"".join(body + end for body, end in lines)

    def put_before(self, number: int, line: bytes) -> None:
        """Insert a line before a block.

        The line ending is that of the first line of the block or, if the block has no line ending, that of the first
        line of the file (default: LF).

        Args:
            number: Index of the block.
            line: The text of the line.
        """
        piece = self._pieces[number]
        end = _ENDS.search(piece) or _ENDS.search(self.frame.data)
        self._pieces[number] = line + (end.group() if end else b"\n") + piece

    def done(self) -> Frame:
        """Return the frame with the new text.

        Raises:
            UnreadableFrame: The new text can't be read as a frame.
        """
        return replace(read_frame(b"".join(self._pieces)), encoding=self.frame.encoding)


def with_lines_reordered(frame: Frame, keyword: bytes, order: Indices) -> Frame:
    """Return the frame after reordering the lines that have a given keyword. All other bytes stay in place.

    Args:
        frame: The frame.
        keyword: Keyword of the lines.
        order: For each of these lines in the new text, its old position among these lines, from 0, (n,). Every position
            must occur exactly once.
    """
    draft = Draft(frame)
    own = {number: draft.lines(number) for number in draft.blocks(keyword)}
    bodies = [body for lines in own.values() for body, _ in lines]
    fresh = iter([bodies[old] for old in order.tolist()])
    for number, lines in own.items():
        draft.put(number, [(next(fresh), end) for _, end in lines])
    return draft.done()


def with_lines_kept(frame: Frame, keyword: bytes, keep: Flags) -> Frame:
    """Return the frame with only some of the lines that have a given keyword.

    Args:
        frame: The frame.
        keyword: Keyword of the lines.
        keep: For each of these lines, in all blocks, whether to keep it, (n,).
    """
    draft = Draft(frame)
    wanted = iter(keep.tolist())
    for number in draft.blocks(keyword):
        draft.put(number, [line for line in draft.lines(number) if next(wanted)])
    return draft.done()
