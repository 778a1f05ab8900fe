"""Keep track of the terminal's cells, so that only the cells that change are sent.

Textual repaints whole widgets, some of them twice per key press, which takes too long on a slow connection.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from rich.cells import cell_len

_MOVE = re.compile(r"\x1b\[(\d+);(\d+)H")
"""A control sequence that sets the cursor position: row and column, counted from 1 (ECMA-48, 8.3.21 CUP, from
memory)."""

_STYLE = re.compile(r"\x1b\[([\d;]*)m")
"""A control sequence that sets colours and attributes (ECMA-48, 8.3.117 SGR, from memory)."""

_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
"""A control character."""

_ATTRIBUTES = frozenset(map(str, range(1, 10)))
_ON_BLANKS = frozenset(("4", "7", "9"))  # underlined, reversed, crossed out: attributes that are visible on blanks
_EXTENDED = {"5": 3, "2": 5}  # second number of an extended colour -> how many numbers it consists of
_SKIP = 4  # maximum number of unchanged cells that are sent again; a sequence that skips cells takes as many bytes


class Style(NamedTuple):
    """Attributes and colours of a cell.

    Attributes:
        attributes: SGR parameters of the attributes.
        front: SGR parameters of the text colour; empty for the terminal's own colour.
        back: SGR parameters of the background colour; empty for the terminal's own colour.
    """

    attributes: frozenset[str] = frozenset()
    front: str = ""
    back: str = ""


PLAIN = Style()
Cell = tuple[str, Style]
_UNKNOWN: Cell = "", PLAIN


class ScreenCells:
    """The cells of the terminal. They are not known until the whole screen is repainted."""

    def __init__(self) -> None:
        self._rows: defaultdict[int, list[Cell]] = defaultdict(list)
        self._cursor = ""
        self._size = 0
        self._known = False

    def resized(self, columns: int, rows: int) -> None:
        """Store the size of the terminal, and forget its cells, because they may have been moved or cut off."""
        self._size = columns * rows
        self.forget()

    def forget(self) -> None:
        """Treat all cells as unknown until the whole screen is repainted.

        This is necessary when the terminal may no longer show the stored cells.
        """
        self._known = False

    def changed(self, frame: str) -> str:
        """Return the part of a text that changes the screen; the whole text if it is not a repaint, or if the cells
        aren't known.

        A repaint is a text that consists of cursor positions, styles and characters. If a text begins with a cursor
        position but is not a repaint, for example because it contains a picture in real pixels, all cells are
        forgotten.
        """
        if not _MOVE.match(frame):
            return frame
        pieces = _pieces(frame)
        if pieces is None:
            self.forget()
            return frame
        if not self._known:
            if sum(piece.width for piece in pieces) < self._size:
                return frame
            self._rows.clear()
            self._cursor, self._known = "", True
        sent = "".join(self._take(piece) for piece in pieces)
        cursor = "" if pieces[-1].cells else pieces[-1].raw
        if not sent and cursor == self._cursor:
            return ""
        self._cursor = cursor
        return sent + cursor

    def _take(self, piece: _Piece) -> str:
        """Store the cells of a piece, and return the text that makes the terminal show them."""
        row = self._rows[piece.row]
        if not piece.certain:
            row.clear()  # terminals differ in the width of such characters, and move what comes after them
            return piece.raw
        end = piece.column + piece.width
        row.extend([_UNKNOWN] * (end - len(row)))
        before, row[piece.column : end] = row[piece.column : end], piece.cells
        return "" if before == piece.cells else "".join(_difference(piece, before))


class _Piece(NamedTuple):
    """Consecutive text in one row.

    Attributes:
        row: Number of the row, counted from 1.
        column: Index of the first column, counted from 0.
        width: Number of columns.
        cells: The characters with their styles.
        certain: Whether each character fills exactly one cell.
        raw: The cursor position and the text, as Textual wrote them.
    """

    row: int
    column: int
    width: int
    cells: list[Cell]
    certain: bool
    raw: str


def _pieces(frame: str) -> list[_Piece] | None:
    """Split a repaint into pieces; return None if the text is not a repaint."""
    pieces = []
    style = PLAIN
    _, *moves = _MOVE.split(frame)  # nothing precedes the first cursor position
    for row, column, body in zip(moves[::3], moves[1::3], moves[2::3], strict=True):
        first, *styled = _STYLE.split(body.rstrip("\n"))
        texts = [first, *styled[1::2]]
        text = "".join(texts)
        if _CONTROL.search(text):
            return None
        cells = _cells(first, style)
        for numbers, part in zip(styled[::2], texts[1:], strict=True):
            changed = _styled(style, numbers)
            if changed is None:
                return None
            style = changed
            if part:
                cells += _cells(part, style)
        certain = text.isascii() or all(cell_len(one) == 1 for one in set(text))
        raw = f"\x1b[{row};{column}H{body}"
        pieces.append(_Piece(int(row), int(column) - 1, len(text) if certain else cell_len(text), cells, certain, raw))
    return pieces


def _cells(text: str, style: Style) -> list[Cell]:
    if " " not in text:
        return [(one, style) for one in text]
    blank = " ", _on_blank(style)
    return [blank if one == " " else (one, style) for one in text]


def _difference(piece: _Piece, before: list[Cell]) -> Iterator[str]:
    """Yield text that turns the previous cells into the cells of a piece."""
    style, cursor = PLAIN, -1
    for at, (old, new) in enumerate(zip(before, piece.cells, strict=True)):
        if old == new:
            continue
        skipped = piece.cells[cursor:at] if cursor >= 0 else []
        if cursor < 0:
            yield f"\x1b[{piece.row};{piece.column + at + 1}H"
        elif len(skipped) > _SKIP or not all(_shows(cell, style) for cell in skipped):
            yield f"\x1b[{len(skipped)}C"
        else:
            yield "".join(cell[0] for cell in skipped)
        if not _shows(new, style):
            yield _transition(style, new[1])
            style = new[1]
        yield new[0]
        cursor = at + 1
    if style != PLAIN:
        yield "\x1b[0m"


@lru_cache(maxsize=4096)
def _styled(style: Style, numbers: str) -> Style | None:
    """Apply the numbers of an SGR sequence to a style; return None if one of the numbers is unknown."""
    attributes, front, back = style
    parts = numbers.split(";")
    while parts:
        number = parts[0]
        length = _EXTENDED.get(parts[1], 1) if number in ("38", "48") and len(parts) > 1 else 1
        words, parts = ";".join(parts[:length]), parts[length:]
        if number in ("", "0"):
            attributes, front, back = PLAIN
        elif number in _ATTRIBUTES:
            attributes |= {number}
        elif number in ("39", "49"):
            front, back = ("", back) if number == "39" else (front, "")
        elif number == "38" or 30 <= int(number) < 38 or 90 <= int(number) < 98:
            front = words
        elif number == "48" or 40 <= int(number) < 48 or 100 <= int(number) < 108:
            back = words
        else:
            return None
    return Style(attributes, front, back)


@lru_cache(maxsize=4096)
def _on_blank(style: Style) -> Style:
    """Return the part of a style that is visible on a space."""
    return style if style.attributes & _ON_BLANKS else Style(back=style.back)


def _shows(cell: Cell, style: Style) -> bool:
    """Return whether a cell looks the same if it is sent in the style `style` instead of its own style."""
    return cell[1] == style or (cell[0] == " " and cell[1] == _on_blank(style))


def _transition(before: Style, style: Style) -> str:
    parts = []
    if before.attributes - style.attributes or (style == PLAIN):
        parts.append("0")
        before = PLAIN
    parts += sorted(style.attributes - before.attributes)
    if style.front != before.front:
        parts.append(style.front or "39")
    if style.back != before.back:
        parts.append(style.back or "49")
    return f"\x1b[{';'.join(parts)}m"
