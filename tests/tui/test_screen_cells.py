"""Tests of sending only the cells that changed. The terminal is an emulator (pyte)."""

from __future__ import annotations

import pyte
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyte.screens import Char
from rich.cells import cell_len
from rich.color import ColorSystem
from rich.style import Style
from textual.strip import Strip

from inspector.tui.screen_cells import ScreenCells

COLUMNS, ROWS = 12, 4
STYLES = (
    Style(),
    *(Style(bold=True), Style(dim=True), Style(reverse=True), Style(underline=True), Style(bold=True, reverse=True)),
    *(Style(color="red"), Style(color="default", bgcolor="default"), Style(color="bright_blue", bgcolor="yellow")),
    *(Style(color="#102030", bgcolor="#405060"), Style(color="color(100)", bgcolor="color(20)", bold=True)),
)
styles = st.tuples(st.sampled_from(STYLES), st.sampled_from(list(ColorSystem)))
MARK = "\u0301"
letters = st.sampled_from("aab     ─▄é") | st.sampled_from(f"魚{MARK}🐟")  # characters that are not one cell wide


@st.composite
def rows(draw: st.DrawFn, row: int) -> str:
    width = draw(st.integers(1, COLUMNS))
    text = "".join(draw(st.lists(letters, max_size=width))).lstrip(MARK)  # a mark is written after its letter
    while cell_len(text) > width or text.endswith(MARK):  # the emulator wraps a mark at the right edge
        text = text[:-1]
    text += "x" * (width - cell_len(text))
    return f"\x1b[{row};{COLUMNS - width + 1}H{drawn(draw(styles), text)}"


def drawn(style: tuple[Style, ColorSystem], text: str) -> str:
    return Strip.render_style(style[0], text, style[1])


@st.composite
def repaints(draw: st.DrawFn, *, whole: bool = False) -> str:
    shown = range(1, ROWS + 1) if whole else sorted(draw(st.sets(st.integers(1, ROWS))))
    full = [
        f"\x1b[{row};1H{drawn(draw(styles), draw(st.text('ab ─', min_size=COLUMNS, max_size=COLUMNS)))}"
        for row in shown
    ]
    parts = full if whole else [draw(rows(row)) for row in shown]
    return "\n".join(parts) + f"\x1b[{draw(st.integers(1, ROWS))};1H"


class Terminal:
    def __init__(self) -> None:
        self.screen = pyte.Screen(COLUMNS, ROWS)
        self._stream = pyte.Stream(self.screen)

    def take(self, text: str) -> None:
        self._stream.feed(text.replace("\n", "\r\n"))

    def cells(self) -> list[list[Char]]:
        return [[seen(self.screen.buffer[row][column]) for column in range(COLUMNS)] for row in range(ROWS)]


def seen(cell: Char) -> Char:
    """Return the cell. If only its background is visible, its text colour and weight are replaced with the defaults."""
    if cell.data == " " and not (cell.reverse or cell.underscore):
        return cell._replace(fg="default", bold=False)
    return cell


@given(repaints(whole=True), st.lists(repaints(), max_size=6))
def test_the_terminal_shows_the_same(first: str, others: list[str]) -> None:
    whole, changes, cells = Terminal(), Terminal(), ScreenCells()
    cells.resized(COLUMNS, ROWS)
    for repaint in (first, *others):
        whole.take(repaint)
        changes.take(cells.changed(repaint))
        assert changes.cells() == whole.cells()
        assert changes.screen.cursor.y == whole.screen.cursor.y
    assert cells.changed(first) == "" or others


def repaint_of(*texts: str) -> str:
    return "\n".join(f"\x1b[{row};1H{text:<{COLUMNS}}" for row, text in enumerate(texts, 1)) + "\x1b[1;1H"


@pytest.fixture
def cells() -> ScreenCells:
    known = ScreenCells()
    known.resized(COLUMNS, 2)
    known.changed(repaint_of("one", "two"))
    return known


def test_a_letter_that_changes(cells: ScreenCells) -> None:
    assert cells.changed(repaint_of("one", "two")) == ""
    assert cells.changed(repaint_of("one", "too")) == "\x1b[2;2Ho\x1b[1;1H"


def test_a_gap_is_skipped_or_sent_whichever_is_shorter(cells: ScreenCells) -> None:
    assert cells.changed(repaint_of("Onx", "two")) == "\x1b[1;1HOnx\x1b[1;1H"
    assert cells.changed(repaint_of("onx", "Two        .")) == "\x1b[1;1Ho\x1b[2;1HT\x1b[10C.\x1b[1;1H"


def test_modes_questions_and_titles_pass(cells: ScreenCells) -> None:
    for sequence in ("\x1b[?2026h", "\x1b[6n", "\x1b]2;words\x1b\\", "\x07"):
        assert cells.changed(sequence) == sequence
    assert cells.changed(repaint_of("one", "two")) == ""


@pytest.mark.parametrize("sequence", ["\x1b_Ga=T,U=1;AAAA\x1b\\", "\x1b7\x1bPq~\x1b\\\x1b8", "\x1b[53m", "\x08"])
def test_after_a_sequence_of_another_kind_all_is_sent_until_a_whole_repaint(cells: ScreenCells, sequence: str) -> None:
    picture, part = f"\x1b[1;1H{sequence}one", "\x1b[2;1Htwo\x1b[1;1H"
    assert cells.changed(picture) == picture
    assert cells.changed(part) == part
    assert cells.changed(repaint_of("one", "two")) != ""
    assert cells.changed(part) == ""


def test_after_a_resize_all_is_sent_until_a_repaint_of_the_new_size(cells: ScreenCells) -> None:
    cells.resized(COLUMNS, 3)
    small, large = repaint_of("one", "two"), repaint_of("one", "two", "three")
    assert cells.changed(small) == small
    assert cells.changed(large).replace(" ", "") == large.replace(" ", "").replace("\n", "")
    assert cells.changed(small) == ""


def test_a_row_whose_widths_are_not_certain_is_always_sent(cells: ScreenCells) -> None:
    row = "\x1b[2;1H魚two\x1b[1;1H"
    assert cells.changed(row) == cells.changed(row) == row
    assert cells.changed("\x1b[1;1Hone\x1b[1;1H") == ""
