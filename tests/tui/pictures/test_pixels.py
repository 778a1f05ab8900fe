"""Tests of the graphics protocols. The tests' own terminal converts the bytes back into the picture."""

from __future__ import annotations

import re
import unicodedata

import numpy as np
import pytest
from rich.color import ColorSystem
from rich.console import Console
from rich.style import Style
from textual.strip import Strip

from inspector.picture.canvas import GROUND, blank
from inspector.tui.graphics import Graphics, Protocol
from inspector.tui.pictures.cells import Cells, overlaid
from inspector.tui.pictures.colours import Depth
from inspector.tui.pictures.pixels import MARKS, PictureLine, forgotten, joined, pixel_cells
from tests.helpers.tui.pixel_terminal import PixelTerminal

COLUMNS, ROWS, CELL = 13, 5, (8, 18)
TOP, LEFT = 2, 3
SIXEL_ERROR = 6
"""Maximum error of a colour channel whose values are 0 to 255.

The maximum error is the sum of four errors, rounded up: 2 for the 63 steps of a channel, 1.3 for writing the channel in
percent, and 1 each for rounding down in the tool and in the terminal.
"""


def answered(protocol: Protocol, *, tmux: bool = False) -> Graphics:
    known = {Protocol.KITTY: {"kitty": True, "placeholders": True}, Protocol.INLINE: {"inline": True}}
    return Graphics(cell=CELL, tmux=tmux, **known.get(protocol, {"sixel": True}))


def cells_of(protocol: Protocol, *, tmux: bool = False) -> Cells:
    cells = pixel_cells(answered(protocol, tmux=tmux), Depth.TRUE)
    assert cells is not None
    return cells


def noise(columns: int = COLUMNS, rows: int = ROWS) -> np.ndarray:
    rng = np.random.default_rng(7)
    few = rng.integers(0, 256, (250, 3), np.uint8)
    return few[rng.integers(0, 250, (rows * CELL[1], columns * CELL[0]))]


def written(lines: list[Strip]) -> str:
    console = Console(color_system="truecolor", force_terminal=True)
    return "".join(f"\x1b[{TOP + row + 1};{LEFT + 1}H{line.render(console)}" for row, line in enumerate(lines))


def terminal_of(protocol: Protocol, *, tmux: bool = False) -> PixelTerminal:
    return PixelTerminal(30, 10, {protocol}, cell=CELL, tmux=tmux)


def area(columns: int = COLUMNS, rows: int = ROWS) -> tuple[slice, slice]:
    return (
        slice(TOP * CELL[1], (TOP + rows) * CELL[1]),
        slice(LEFT * CELL[0], (LEFT + columns) * CELL[0]),
    )


def assert_seen(terminal: PixelTerminal, picture: np.ndarray, protocol: Protocol) -> None:
    pixels, covered = terminal.picture()
    rows, columns = picture.shape[0] // CELL[1], picture.shape[1] // CELL[0]
    inside = np.zeros(covered.shape, bool)
    inside[area(columns, rows)] = True
    assert (covered == inside).all()
    error = np.abs(pixels[area(columns, rows)].astype(int) - picture)
    assert error.max() <= (SIXEL_ERROR if protocol is Protocol.SIXEL else 0)


@pytest.mark.parametrize("protocol", list(Protocol))
def test_the_picture_comes_back_out_of_the_bytes(protocol: Protocol) -> None:
    cells, terminal, picture = cells_of(protocol), terminal_of(protocol), noise()
    lines = cells.over(picture, cells.strips(picture))
    assert [line.cell_length for line in lines] == [COLUMNS] * ROWS
    terminal.feed(written(lines))
    assert_seen(terminal, picture, protocol)


@pytest.mark.parametrize("protocol", list(Protocol))
def test_what_is_written_on_the_lines_is_seen_over_the_picture(protocol: Protocol) -> None:
    cells, terminal, picture = cells_of(protocol), terminal_of(protocol), noise()
    lines = cells.strips(picture)
    lines[1] = overlaid(lines[1], 2, "A to B", Style(color="white"))
    terminal.feed(written(cells.over(picture, lines)))
    _, covered = terminal.picture()
    assert terminal.rows[TOP + 1] == " " * (LEFT + 2) + "A to B" + " " * (30 - LEFT - 8)
    by_cell = covered.reshape(10, CELL[1], 30, CELL[0])
    assert by_cell.all(axis=(1, 3)).sum() == COLUMNS * ROWS - len("AtoB")
    assert by_cell.any(axis=(1, 3)).sum() == COLUMNS * ROWS - len("AtoB")


@pytest.mark.parametrize("protocol", list(Protocol))
def test_text_written_later_covers_the_picture(protocol: Protocol) -> None:
    cells, terminal, picture = cells_of(protocol), terminal_of(protocol), noise()
    terminal.feed(written(cells.over(picture, cells.strips(picture))))
    terminal.feed("".join(f"\x1b[{row + 1};1H{' ' * 30}" for row in range(10)))
    assert not terminal.picture()[1].any()


@pytest.mark.parametrize("protocol", list(Protocol))
def test_two_pictures_beside_each_other(protocol: Protocol) -> None:
    cells, terminal, picture = cells_of(protocol), terminal_of(protocol), noise(12)
    halves = [picture[:, : 5 * CELL[0]], picture[:, 5 * CELL[0] :]]
    both = [cells.over(half, cells.strips(half)) for half in halves]
    terminal.feed(written([joined(pair) for pair in zip(*both, strict=True)]))
    assert_seen(terminal, picture, protocol)


def test_every_line_of_the_next_picture_differs() -> None:
    """An unchanged line would not be sent, so the terminal would keep that line of the previous picture."""
    cells, picture = cells_of(Protocol.KITTY), noise()
    pictures = [cells.over(picture, cells.strips(picture)) for _ in range(9)]  # one more than there are ids
    for one, other in zip(pictures[0], pictures[8], strict=True):
        assert one != other
    assert pictures[0][1].render(Console(color_system="truecolor")) == pictures[8][1].render(
        Console(color_system="truecolor")
    )


def test_only_lines_of_inline_images_and_sixel_that_changed_are_sent() -> None:
    for protocol in (Protocol.INLINE, Protocol.SIXEL):
        cells, picture = cells_of(protocol), noise()
        other = picture.copy()
        other[CELL[1] : CELL[1] + 2] = picture[0, 0]  # a colour that the picture already has
        pairs = zip(*(cells.over(one, cells.strips(one)) for one in (picture, other)), strict=True)
        assert [one == two for one, two in pairs] == [True, False, True, True, True], protocol


def test_through_tmux_the_terminal_around_it_gets_the_picture() -> None:
    cells, picture = cells_of(Protocol.KITTY, tmux=True), noise()
    terminal = terminal_of(Protocol.KITTY, tmux=True)
    terminal.feed(written(cells.over(picture, cells.strips(picture))))
    assert_seen(terminal, picture, Protocol.KITTY)
    terminal.feed(forgotten(answered(Protocol.KITTY, tmux=True)))
    assert not terminal.images


def test_a_few_slices_of_several_lines_through_tmux() -> None:
    """tmux keeps only 20 Sixel pictures (tmux's image.c, quoted from memory)."""
    cells, picture = cells_of(Protocol.SIXEL, tmux=True), noise(4, 40)
    terminal = PixelTerminal(30, 45, {Protocol.SIXEL}, cell=CELL)  # tmux does the drawing
    lines = cells.strips(picture)
    lines[7] = overlaid(lines[7], 1, "on", Style(color="white"))
    text = written(cells.over(picture, lines))
    assert text.count("\x1bP") == 14
    terminal.feed(text)
    pixels, covered = terminal.picture()
    assert covered.sum() == (4 * 40 - 2) * CELL[0] * CELL[1]
    error = np.abs(pixels[area(4, 40)].astype(int) - picture)[covered[area(4, 40)]]
    assert error.max() <= SIXEL_ERROR
    assert "on" in terminal.rows[TOP + 7]


def test_the_terminal_forgets_the_pictures_that_it_keeps() -> None:
    cells, terminal, picture = cells_of(Protocol.KITTY), terminal_of(Protocol.KITTY), noise()
    for _ in range(20):
        terminal.feed(written(cells.over(picture, cells.strips(picture))))
    assert 0 < len(terminal.images) <= 8
    terminal.feed(forgotten(answered(Protocol.KITTY)))
    assert not terminal.images
    assert forgotten(answered(Protocol.SIXEL)) == ""


def test_more_colours_than_sixel_has_are_brought_down() -> None:
    rng = np.random.default_rng(3)
    picture = rng.integers(0, 256, (ROWS * CELL[1], COLUMNS * CELL[0], 3), np.uint8)
    cells, terminal = cells_of(Protocol.SIXEL), terminal_of(Protocol.SIXEL)
    terminal.feed(written(cells.over(picture, cells.strips(picture))))
    pixels, covered = terminal.picture()
    assert covered[area()].all()
    # The 256 colours of an octree form 8 x 8 x 4 boxes with sides of 32 to 64. The mean error is at most a quarter of
    # that.
    assert np.abs(pixels[area()].astype(int) - picture).mean() < 16


def test_no_pixels_without_colours_or_without_a_protocol() -> None:
    assert pixel_cells(answered(Protocol.KITTY), Depth.NONE) is None
    assert pixel_cells(Graphics(cell=CELL), Depth.TRUE) is None
    assert pixel_cells(Graphics(sixel=True), Depth.TRUE) is None  # the size of the picture would be unknown


@pytest.mark.parametrize("protocol", list(Protocol))
def test_a_line_that_is_cut_is_cells_alone(protocol: Protocol) -> None:
    """If a graphics sequence were cut, the terminal would print the rest of it as text."""
    cells, picture = cells_of(protocol), noise()
    for line in cells.over(picture, cells.strips(picture)):
        assert isinstance(line, PictureLine)
        for cut in (line.crop(2, 9), line.adjust_cell_length(9), line.adjust_cell_length(20), Strip.join([line, line])):
            assert "\x1b" not in cut.text
            assert not isinstance(cut, PictureLine)
            assert cut.cell_length in (7, 9, 20, 2 * COLUMNS)


def test_empty_lines_have_the_mean_colour_of_their_cells() -> None:
    """If text is later written on an empty line, the line's colour is the background of the text."""
    picture = blank(COLUMNS * CELL[0], ROWS * CELL[1])
    picture[: CELL[1], : CELL[0] // 2] = 255
    (first, *_), *_ = cells_of(Protocol.SIXEL).strips(picture)
    assert first.style is not None
    assert first.style.bgcolor is not None
    mean = [(255 + level) / 2 for level in GROUND]
    assert np.abs(np.array(first.style.bgcolor.get_truecolor()) - mean).max() <= 255 / 31 / 2 + 1  # 5 bits per channel


def test_marks_are_those_of_unicode() -> None:
    """Source: kitty graphics protocol, which uses 297 combining marks of Unicode 6.0."""
    assert len(MARKS) == len(set(MARKS)) == 297
    assert list(MARKS) == sorted(MARKS)
    for mark in MARKS:
        assert (unicodedata.category(mark), unicodedata.combining(mark)) == ("Mn", 230)
        assert not unicodedata.decomposition(mark)
        for form in ("NFC", "NFD"):
            assert unicodedata.normalize(form, f"e{mark}") == f"e{mark}"


def test_colours_are_the_ids_whatever_colours_the_terminal_has() -> None:
    cells, picture = cells_of(Protocol.KITTY), noise()
    line = cells.over(picture, cells.strips(picture))[1]
    for system in (ColorSystem.TRUECOLOR, ColorSystem.EIGHT_BIT):
        style = next(piece.style for piece in line if piece.text.strip())
        assert style is not None
        assert re.search(r"38;5;20[1-8]m", Strip.render_style(style.copy(), "x", system))
