"""Pictures in the terminal's own pixels, as lines of the screen that carry them.

A picture is part of the lines that it covers, so that it goes where they go: another screen writes over it, and what
repaints the lines sends it again. In the kitty graphics protocol the lines are characters that stand for parts of a
picture, and the first line carries the picture. Inline images and Sixel are drawn over cells: a line is blank, and
then a slice of the picture is drawn over it. What was written on the lines before, letters or a scale, is kept.

**Decision: encoders of our own.** The three protocols are some twenty lines each; Pillow makes PNG and brings Sixel's
colours down. The libraries for this in the registry are widgets or commands that print a picture where the cursor is.
"""

from __future__ import annotations

import zlib
from base64 import b64encode
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import count, cycle

import numpy as np
from rich.color import Color, ColorSystem
from rich.segment import ControlType, Segment
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
"""Pixels of a cell whose size the terminal doesn't tell: it fits the picture into its cells."""

_IDS = range(201, 209)
"""Ids of pictures in the kitty graphics protocol. The colour of its characters is the id, so it is one of 256. Eight:
two pictures beside each other, shown, waiting and being made."""
_next_id = cycle(_IDS)
_serials = count()

_CHUNK = 4096  # bytes of a picture in one sequence, at most (kitty graphics protocol)
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
"""Combining marks that number the rows and columns of a picture from 0: those of Unicode 6.0 that stand above (class
230) and that normalisation leaves alone (kitty graphics protocol, "Unicode placeholders")."""

_SAVE, _RESTORE = "\x1b7", "\x1b8"  # the cursor: DECSC and DECRC (VT510 Programmer Information, from memory)
_CONTROL = [(ControlType.CURSOR_MOVE_TO_COLUMN, 0)]  # what the library counts no cells for
_SYSTEMS = {
    Depth.TRUE: ColorSystem.TRUECOLOR,
    Depth.INDEXED: ColorSystem.EIGHT_BIT,
    Depth.SIXTEEN: ColorSystem.STANDARD,
}

_TMUX_IMAGES = 16
"""Sixel pictures on one screen. tmux remembers 20 in all, and forgets the oldest (its image.c, from memory)."""


def pixel_cells(graphics: Graphics, depth: Depth) -> Cells | None:
    """Cells whose pixels are the terminal's own; None where it draws none, or where no colours are wanted."""
    if graphics.protocol is None or depth is Depth.NONE:
        return None
    across, down = graphics.cell or _CELL
    empty = partial(_empty, across=across, down=down, depth=depth)
    if graphics.protocol is Protocol.KITTY:
        over = partial(_placed, tmux=graphics.tmux)
    else:
        over = partial(_overdrawn, protocol=graphics.protocol, down=down, depth=depth, tmux=graphics.tmux)
    return Cells("pixels", across, down, empty, dim=True, over=over)


def carries_picture(line: Strip) -> bool:
    """Whether the line must not be cut: a sequence cut off would be written out."""
    return any(piece.control for piece in line)


def forgotten(graphics: Graphics) -> str:
    """What makes the terminal forget all pictures that it was sent to keep."""
    if graphics.protocol is not Protocol.KITTY:
        return ""
    deleted = (f"\x1b_Ga=d,d=I,i={one},q=2\x1b\\" for one in _IDS)
    return "".join(passed_on(one) if graphics.tmux else one for one in deleted)


def _empty(picture: Picture, *, across: int, down: int, depth: Depth) -> list[Strip]:
    """Blank lines, each cell in the picture's mean colour: what is written on it stands on that."""
    rows, columns = picture.shape[0] // down, picture.shape[1] // across
    pixels = picture[: rows * down, : columns * across].reshape(rows, down, columns, across, 3)
    mean = pixels.mean(axis=(1, 3), dtype=np.float32).astype(np.uint8)
    return block_strips(mean.repeat(2, axis=0), depth)


def _placed(picture: Picture, lines: Sequence[Strip], *, tmux: bool) -> list[Strip]:
    """By characters, each of which stands for the part of the picture at its row and column."""
    rows, columns, number = len(lines), min(lines[0].cell_length, len(MARKS)), next(_next_id)
    style = Style(color=Color.from_ansi(number))
    # With another serial every line is another than before, and is written again: that makes a terminal look again.
    placed, serial = [], Segment("", PLAIN, [(ControlType.CURSOR_MOVE_TO_COLUMN, next(_serials))])
    for row, line in enumerate(lines):
        pieces, column = [serial], 0
        for piece in line:
            end = column + piece.cell_length
            if piece.text.isspace() and row < len(MARKS):
                inside = range(column, min(end, columns))
                text = "".join(f"{_PLACEHOLDER}{MARKS[row]}{MARKS[at]}" for at in inside)
                pieces += [Segment(text, style), Segment(" " * (end - column - len(inside)), PLAIN)]
            else:
                pieces.append(piece)
            column = end
        placed.append(Strip(pieces, line.cell_length))
    high, wide = picture.shape[:2]
    keys = f"a=T,U=1,q=2,f=24,o=z,s={wide},v={high},i={number},c={columns},r={rows}"
    sent = _sent(zlib.compress(picture.tobytes(), 1), keys, tmux=tmux)  # PNG takes five times as long
    placed[0] = Strip([Segment(sent, None, _CONTROL), *placed[0]], placed[0].cell_length)
    return placed


def _sent(data: bytes, keys: str, *, tmux: bool) -> str:
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
    """Slices of the picture over blank lines. Each goes with its last line, and what is written on its lines is
    written once more over it."""
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
    width = lines[0].cell_length
    up = f"\x1b[{len(lines) - 1}A" if len(lines) > 1 else ""
    after = [_RESTORE, up, drawn]
    blank = []
    for row, line in enumerate(lines):
        lower = f"\x1b[{len(lines) - 1 - row}A" if row < len(lines) - 1 else ""
        pieces, column = [], 0
        for piece in line:
            if piece.text.isspace():
                pieces.append(Segment(piece.text, PLAIN))
            else:
                pieces.append(piece)
                text = Strip.render_style(piece.style or PLAIN, piece.text, _SYSTEMS[depth])
                after += [_RESTORE, lower, f"\x1b[{column}C" if column else "", text]
            column += piece.cell_length
        blank.append(Strip(pieces, width))
    after += [_RESTORE, f"\x1b[{width}C"]
    last = [Segment(_SAVE, None, _CONTROL), *blank[-1], Segment("".join(after), None, _CONTROL)]
    return [*blank[:-1], Strip(last, width)]
