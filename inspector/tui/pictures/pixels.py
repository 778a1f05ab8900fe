"""Show pictures in the terminal's own pixels, as lines of the screen that carry the pictures.

In the kitty graphics protocol, the lines consist of characters that represent parts of a picture, and the first line
also carries the picture. Inline images and Sixel images are drawn over blank lines, one slice of the picture at a time.
If a line can't show its picture in pixels, for example while a drawer is open, its cells show the picture in block
characters. Text that is already on the lines is kept.
"""

from __future__ import annotations

import zlib
from base64 import b64encode
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import count, cycle

import numpy as np
from rich.color import Color, ColorSystem
from rich.console import Console
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from inspector.picture.canvas import Picture
from inspector.picture.png import png_bytes
from inspector.picture.sixel import sixel
from inspector.tui.graphics import Graphics, Protocol, passed_on
from inspector.tui.pictures.cells import Cells, block_strips
from inspector.tui.pictures.colours import Depth
from inspector.tui.styles import PLAIN

_CELL = 10, 20
"""Assumed width and height of a cell, in pixels, if the terminal doesn't report them. The terminal scales the picture
to its cells."""

_IDS = range(201, 209)
"""Ids of pictures in the kitty graphics protocol. A picture's id is also the number of its characters' colour, so it is
less than 256. Pictures side by side use six ids: two pictures are on the screen, two wait, and two are being drawn."""
_next_id = cycle(_IDS)
_serials = count()

_CHUNK = 4096  # maximum number of bytes in one escape sequence (kitty graphics protocol)
_PLACEHOLDER = "\U0010eeee"
_MARK_RANGES = """
305 30D-30E 310 312 33D-33F 346 34A-34C 350-352 357 35B 363-36F 483-487 592-595 597-599 59C-5A1 5A8-5A9 5AB-5AC 5AF
5C4 610-617 657-65B 65D-65E 6D6-6DC 6DF-6E2 6E4 6E7-6E8 6EB-6EC 730 732-733 735-736 73A 73D 73F-741 743 745 747
749-74A 7EB-7F1 7F3 816-819 81B-823 825-827 829-82D 951 953-954 F82-F83 F86-F87 135D-135F 17DD 193A 1A17 1A75-1A7C
1B6B 1B6D-1B73 1CD0-1CD2 1CDA-1CDB 1CE0 1DC0-1DC1 1DC3-1DC9 1DCB-1DCC 1DD1-1DE6 1DFE 20D0-20D1 20D4-20D7 20DB-20DC
20E1 20E7 20E9 20F0 2CEF-2CF1 2DE0-2DFF A66F A67C-A67D A6F0-A6F1 A8E0-A8F1 AAB0 AAB2-AAB3 AAB7-AAB8 AABE-AABF AAC1
FE20-FE26 10A0F 10A38 1D185-1D189 1D1AA-1D1AD 1D242-1D244
"""


def _marks() -> Iterator[str]:
    for part in _MARK_RANGES.split():
        first, _, last = part.partition("-")
        yield from map(chr, range(int(first, 16), int(last or first, 16) + 1))


MARKS = "".join(_marks())
"""Combining marks that number the rows and columns of a picture, from 0. They are the marks of Unicode 6.0 that are
placed above a character (class 230) and that normalisation doesn't change (kitty graphics protocol, "Unicode
placeholders")."""

_SAVE, _RESTORE = "\x1b7", "\x1b8"  # the cursor: DECSC and DECRC (VT510 Programmer Information, from memory)
_BLOCKS = " ▀▄█"  # contents of a picture's cells until text is written on them
_SYSTEMS = {
    Depth.TRUE: ColorSystem.TRUECOLOR,
    Depth.INDEXED: ColorSystem.EIGHT_BIT,
    Depth.SIXTEEN: ColorSystem.STANDARD,
}

_TMUX_IMAGES = 16
"""Maximum number of slices per picture in tmux. In all, tmux keeps only the newest 20 Sixel images. Source: tmux's
image.c, quoted from memory."""


def pixel_cells(graphics: Graphics, depth: Depth) -> Cells | None:
    """Return the kind of cells for pictures that the terminal draws with its own pixels.

    Returns:
        The kind of cells; None if the terminal draws no pixels, or if no colours are to be used.
    """
    if graphics.protocol is None or depth is Depth.NONE:
        return None
    across, down = graphics.cell or _CELL
    blocks = partial(_in_blocks, across=across, down=down, depth=depth)
    if graphics.protocol is Protocol.KITTY:
        over = partial(_placed, depth=depth, tmux=graphics.tmux)
    else:
        over = partial(_overdrawn, protocol=graphics.protocol, down=down, depth=depth, tmux=graphics.tmux)
    return Cells("pixels", across, down, blocks, dim=True, over=over)


class PictureLine(Strip):
    """A line that carries a picture, or a part of a picture.

    Attributes:
        drawn: The text that is sent for the line instead of its cells.
        serial: A number. Lines with different numbers are not equal, even if the same text is sent for them.
    """

    __slots__ = ["drawn", "serial"]

    def __init__(self, line: Strip, drawn: str, serial: int = 0) -> None:
        super().__init__(line, line.cell_length)
        self.drawn = drawn
        self.serial = serial

    def __eq__(self, other: object) -> bool:
        return isinstance(other, PictureLine) and (self.drawn, self.serial) == (other.drawn, other.serial)

    __hash__ = None  # type: ignore[assignment] # as in the class that it extends

    def render(self, console: Console) -> str:  # noqa: ARG002 - already rendered
        """Return the text that is sent. Textual calls this method only for whole lines. For a cropped line, it uses the
        cells instead."""
        return self.drawn


def joined(parts: Sequence[Strip]) -> Strip:
    """Join lines side by side, with the pictures that they carry."""
    line = Strip.join(parts)
    if not any(isinstance(part, PictureLine) for part in parts):
        return line
    serial = max(part.serial for part in parts if isinstance(part, PictureLine))
    return PictureLine(line, "".join(map(_sent_for, parts)), serial)


def forgotten(graphics: Graphics) -> str:
    """Return the control sequences that make the terminal drop the pictures that it keeps; empty if it keeps none."""
    if graphics.protocol is not Protocol.KITTY:
        return ""
    deleted = (f"\x1b_Ga=d,d=I,i={one},q=2\x1b\\" for one in _IDS)
    return "".join(passed_on(one) if graphics.tmux else one for one in deleted)


def _in_blocks(picture: Picture, *, across: int, down: int, depth: Depth) -> list[Strip]:
    """Convert a picture to cells of two half blocks, each in the mean colour of its pixels."""
    rows, columns = 2 * (picture.shape[0] // down), picture.shape[1] // across
    tops = np.arange(rows) * down // 2
    whole = picture[: rows // 2 * down, : columns * across].astype(np.uint32)
    across_sums = whole.reshape(len(whole), columns, across, 3).sum(axis=2)
    sums = np.add.reduceat(across_sums, tops, axis=0)
    counts = np.diff(tops, append=len(whole)) * across
    return block_strips((sums // counts[:, None, None]).astype(np.uint8), depth)


def _placed(picture: Picture, lines: Sequence[Strip], *, depth: Depth, tmux: bool) -> list[Strip]:
    """Make lines of characters that the terminal replaces with a picture. Each character stands for the part of the
    picture at the character's row and column."""
    rows, columns, number = len(lines), min(lines[0].cell_length, len(MARKS)), next(_next_id)
    style = Style(color=Color.from_ansi(number))
    high, wide = picture.shape[:2]
    keys = f"a=T,U=1,q=2,f=24,o=z,s={wide},v={high},i={number},c={columns},r={rows}"
    sent = _sequences(zlib.compress(picture.tobytes(), 1), keys, tmux=tmux)  # encoding as PNG takes five times as long
    placed: list[Strip] = []
    # A new serial makes every line differ from before, so that it is written again and the terminal redraws it.
    serial = next(_serials)
    for row, line in enumerate(lines):
        pieces: list[Segment] = []
        column = 0
        for piece in line:
            end = column + piece.cell_length
            if _is_picture(piece) and row < len(MARKS) and end <= columns:
                # A character without marks is one column to the right of the previous character.
                follows = bool(pieces) and pieces[-1].style is style
                marks = "" if follows else MARKS[row] + MARKS[column]
                pieces.append(Segment(_PLACEHOLDER + marks + _PLACEHOLDER * (end - column - 1), style))
            else:
                pieces.append(piece)
            column = end
        characters = Strip(pieces, line.cell_length).simplify()
        placed.append(PictureLine(characters, ("" if row else sent) + _sent_for(characters, depth), serial))
    return placed


def _is_picture(piece: Segment) -> bool:
    return not piece.text.strip(_BLOCKS)


def _sent_for(line: Strip, depth: Depth = Depth.TRUE) -> str:
    if isinstance(line, PictureLine):
        return line.drawn
    return "".join(Strip.render_style(piece.style or PLAIN, piece.text, _SYSTEMS[depth]) for piece in line)


def _sequences(data: bytes, keys: str, *, tmux: bool) -> str:
    text = b64encode(data).decode()
    parts = []
    for start in range(0, len(text), _CHUNK):
        more = int(start + _CHUNK < len(text))
        part = f"\x1b_G{keys or 'q=2'},m={more};{text[start : start + _CHUNK]}\x1b\\"
        parts.append(passed_on(part) if tmux else part)
        keys = ""
    return "".join(parts)


def _overdrawn(
    picture: Picture, lines: Sequence[Strip], *, protocol: Protocol, down: int, depth: Depth, tmux: bool
) -> list[Strip]:
    """Make blank lines with slices of the picture drawn over them.

    Each slice is sent with the last line that it covers. The text of `lines` is then written over the slice.
    """
    high = -(-len(lines) // _TMUX_IMAGES) if tmux else 1
    drawn: list[Strip] = []
    for top in range(0, len(lines), high):
        group = lines[top : top + high]
        part = picture[top * down : (top + len(group)) * down]
        slice_of = sixel(part) if protocol is Protocol.SIXEL else _inline(part, lines[0].cell_length, len(group))
        drawn += _with_slice(group, slice_of, depth)
    return drawn


def _inline(picture: Picture, columns: int, rows: int) -> str:
    data = png_bytes(picture)
    keys = f"inline=1;size={len(data)};width={columns};height={rows};preserveAspectRatio=0"
    return f"\x1b]1337;File={keys}:{b64encode(data).decode()}\x07"


def _with_slice(lines: Sequence[Strip], drawn: str, depth: Depth) -> list[Strip]:
    """Make blank lines with one slice of a picture drawn over them."""
    width, below = lines[0].cell_length, len(lines) - 1
    after = [_RESTORE, f"\x1b[{below}A" if below else "", drawn]
    for row, line in enumerate(lines):
        column = 0
        for piece in line:
            if not _is_picture(piece):
                up, right = f"\x1b[{below - row}A" if row < below else "", f"\x1b[{column}C" if column else ""
                after += [_RESTORE, up, right, _sent_for(Strip([piece]), depth)]
            column += piece.cell_length
    after += [_RESTORE, f"\x1b[{width}C"]
    blank = " " * width
    last = PictureLine(lines[-1], f"{_SAVE}{blank}{''.join(after)}")
    return [*(PictureLine(line, blank) for line in lines[:-1]), last]
