"""A screen, split into the elements to paint: dots, runs of letters, and a grid of colours. The grid divides each
character cell into eight parts: two columns and four rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import TYPE_CHECKING

from rich.cells import cell_len
from rich.color import Color, ColorType
from rich.style import Style
from rich.terminal_theme import TerminalTheme

if TYPE_CHECKING:
    from textual.strip import Strip

WIDE, HIGH = 10, 20
Colour = tuple[int, int, int]
INK, PAPER = (208, 208, 208), (0, 0, 0)

# The sixteen colours of a terminal: xterm's own (XTerm-col.ad), from memory.
_DARK = [PAPER, (205, 0, 0), (0, 205, 0), (205, 205, 0), (0, 0, 238), (205, 0, 205), (0, 205, 205), (229, 229, 229)]
_LIGHT = [(127, 127, 127), (255, 0, 0), (0, 255, 0), (255, 255, 0), (92, 92, 255), (255, 0, 255), (0, 255, 255)]
_SIXTEEN = TerminalTheme(PAPER, INK, _DARK, [*_LIGHT, (255, 255, 255)])
PART_TOPS = (0, 7, 10, 13, HIGH)
"""Where the four rows of parts of a cell begin, in pixels, followed by the cell's height.

The first two rows together are half of the cell. The first row, the two middle rows together, and the last row are
about a third each.
"""
_QUARTERS = {letter: bits for bits, letter in enumerate(" ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█") if bits}
_DOTS = [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3)]  # column and row of each bit: Unicode, Braille


@dataclass(frozen=True, slots=True)
class Run:
    """A run of letters in one colour, with the cell in which it starts."""

    row: int
    column: int
    text: str
    ink: Colour
    bold: bool
    underline: bool


@dataclass
class Drawn:
    """A screen, split into dots, runs of letters, and a grid of colours.

    Attributes:
        rows: Number of rows of cells.
        parts: Colours in the grid. Each row of cells has four rows of parts, and each row of parts has two parts
            per cell.
        dots: Left and top of each dot in pixels, by colour.
    """

    columns: int
    rows: int
    parts: list[list[Colour]] = field(default_factory=list)
    dots: dict[Colour, list[tuple[int, int]]] = field(default_factory=dict)
    runs: list[Run] = field(default_factory=list)


def drawn(strips: Sequence[Strip]) -> Drawn:
    screen = Drawn(max(strip.cell_length for strip in strips), len(strips))
    for row, strip in enumerate(strips):
        lines = [[PAPER] * (2 * screen.columns) for _ in PART_TOPS[1:]]
        screen.parts += lines
        column = 0
        for text, style, _ in strip:
            ink, paper = _colours(style)
            width = cell_len(text)
            for line in lines:
                line[2 * column : 2 * (column + width)] = [paper] * (2 * width)
            underlined = bool(style and style.underline)
            for is_blocks, letters in groupby(text, _is_block):
                piece = "".join(letters)
                if is_blocks:
                    _blocks(screen, row, column, piece, ink)
                elif piece.strip() or underlined:
                    screen.runs.append(Run(row, column, piece, ink, bool(style and style.bold), underlined))
                column += cell_len(piece)
    return screen


def _parts(letter: str) -> list[tuple[bool, bool]] | None:
    """Return two flags for each of the four rows of parts: whether the left part is inked, and whether the right part
    is inked. None if the character is not a block."""
    if (bits := _QUARTERS.get(letter)) is not None:
        rows = [bits & 3, bits & 3, bits >> 2, bits >> 2]
    elif 0x1FB00 <= ord(letter) < 0x1FB3C:  # sextants: all combinations in order, except those that existed before
        bits = [at for at in range(1, 63) if at not in (21, 42)][ord(letter) - 0x1FB00]
        rows = [bits & 3, bits >> 2 & 3, bits >> 2 & 3, bits >> 4]
    else:
        return None
    return [(bool(row & 1), bool(row & 2)) for row in rows]


def _is_block(letter: str) -> bool:
    return _parts(letter) is not None or 0x2800 <= ord(letter) < 0x2900


def _blocks(screen: Drawn, row: int, column: int, text: str, ink: Colour) -> None:
    for at, letter in enumerate(text, column):
        if (parts := _parts(letter)) is not None:
            for line, inked in zip(screen.parts[4 * row : 4 * row + 4], parts, strict=True):
                for side in (0, 1):
                    if inked[side]:
                        line[2 * at + side] = ink
            continue
        places = [place for bit, place in enumerate(_DOTS) if (ord(letter) - 0x2800) >> bit & 1]
        dots = [(at * WIDE + 5 * x + 1, row * HIGH + 5 * y + 1) for x, y in places]
        screen.dots.setdefault(ink, []).extend(dots)


def _colours(style: Style | None) -> tuple[Colour, Colour]:
    if style is None:
        return INK, PAPER
    ink, paper = _rgb(style.color, INK), _rgb(style.bgcolor, PAPER)
    if style.dim:
        red, green, blue = ((2 * a + b) // 3 for a, b in zip(ink, paper, strict=True))
        ink = red, green, blue
    if style.bold and style.color is None and PAPER < INK:  # on a dark screen, bold letters are also brighter
        ink = 255, 255, 255
    return (paper, ink) if style.reverse else (ink, paper)


def _rgb(colour: Color | None, default: Colour) -> Colour:
    if colour is None or colour.type is ColorType.DEFAULT:
        return default
    return tuple(colour.get_truecolor(_SIXTEEN))  # type: ignore[return-value]
