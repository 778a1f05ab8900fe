"""Tests of pictures that are drawn with characters."""

from __future__ import annotations

import unicodedata

import numpy as np
import pytest
from rich.color import ColorType

from inspector.picture.canvas import GROUND, blank
from inspector.tui.pictures.cells import block_strips, cells_for, dot_strips, letter_strips
from inspector.tui.pictures.colours import Depth, Palette, depth_of

COLOURED = [Depth.TRUE, Depth.INDEXED, Depth.SIXTEEN]
BLACK, WHITE = (0, 0, 0), (255, 255, 255)


def noise(height: int, width: int) -> np.ndarray:
    return np.random.default_rng(5).integers(0, 256, (height, width, 3), np.uint8)


@pytest.mark.parametrize("ascii_only", [True, False])
@pytest.mark.parametrize("dots", [True, False])
@pytest.mark.parametrize("depth", list(Depth))
def test_every_way_fills_its_cells(depth: Depth, dots: bool, ascii_only: bool) -> None:
    ways = cells_for(depth, ascii_only, dots=dots)
    assert len({cells.name for cells in ways}) == len(ways)
    for cells in ways:
        width, height = cells.pixels(columns=13, rows=5)
        strips = cells.strips(noise(height, width))
        assert [strip.cell_length for strip in strips] == [13] * 5
        assert [len(strip.text) for strip in strips] == [13] * 5
        assert not ascii_only or all(strip.text.isascii() for strip in strips)


@pytest.mark.parametrize("rows", [2, 3])
def test_a_cell_of_parts_shows_each_division_in_two_colours(rows: int) -> None:
    """Source: the Unicode names of the characters (The Unicode Standard, code charts). Quadrants are named by corners,
    and sextants by numbers from 1 (upper left) to 6."""
    cells = next(
        one for one in cells_for(Depth.TRUE, False, dots=False) if one.name == {2: "quarters", 3: "sixths"}[rows]
    )
    for bits in range(1 << (2 * rows)):
        parts = (bits >> np.arange(2 * rows) & 1).reshape(rows, 2).astype(bool)
        picture = np.where(parts[..., None], np.uint8(248), np.uint8(0)).repeat(12 // rows, axis=0).repeat(6, axis=1)
        picture = np.broadcast_to(picture, (12, 12, 3)).reshape(4, 3, 2, 6, 3).mean(axis=(1, 3))
        if rows == 3:  # two of four rows of pixels belong to two thirds each: use the rows of sextants instead
            picture = np.where(parts[[0, 1, 1, 2]][..., None], 248.0, 0.0) * np.ones(3)
        (strip,) = cells.strips(picture.astype(np.uint8))
        ((text, style, _),) = strip
        assert style is not None
        assert style.bgcolor is not None
        ink = style.color.get_truecolor()[0] > 128 if style.color else None
        light = {at for at in range(2 * rows) if parts.reshape(-1)[at]}
        inked = light if ink else set(range(2 * rows)) - light
        assert set(named_parts(text, rows)) == (inked if text != " " else set()), (bits, text)
        assert text != " " or len(light) in (0, 2 * rows)


def named_parts(letter: str, rows: int) -> list[int]:
    name = unicodedata.name(letter)
    quarters = ["UPPER LEFT", "UPPER RIGHT", "LOWER LEFT", "LOWER RIGHT"]
    if name.startswith("BLOCK SEXTANT-"):
        return [int(digit) - 1 for digit in name.removeprefix("BLOCK SEXTANT-")]
    if name.startswith("QUADRANT "):
        return [quarters.index(part) for part in name.removeprefix("QUADRANT ").split(" AND ")]
    halves = {"LEFT HALF BLOCK": (0, 2, 4), "RIGHT HALF BLOCK": (1, 3, 5), "UPPER HALF BLOCK": (0, 1)}
    halves |= {"LOWER HALF BLOCK": (2, 3), "SPACE": ()}
    return [part for part in halves[name] if part < 2 * rows]


@pytest.mark.parametrize(("depth", "tolerance"), [(Depth.TRUE, 5), (Depth.INDEXED, 40)])
def test_a_half_block_shows_its_two_pixels(depth: Depth, tolerance: int) -> None:
    """A channel is rounded to five bits, which changes it by at most 4.2 on a scale of 0 to 255. With 256 colours and
    no values below 96, the error is at most 40."""
    picture = noise(20, 30)
    picture[picture < 96] = 96
    for row, strip in enumerate(block_strips(picture, depth)):
        column = 0
        for text, style, _ in strip:
            assert style is not None
            assert style.bgcolor is not None
            assert style.color is not None or not text.strip()
            for _letter in text:
                upper = style.color or style.bgcolor  # a space has no ink
                for colour, pixel in ((upper, picture[2 * row]), (style.bgcolor, picture[2 * row + 1])):
                    shown = np.array(colour.get_truecolor())
                    assert np.abs(shown - pixel[column].astype(int)).max() <= tolerance
                column += 1


def test_of_256_colours_the_nearest_is_taken() -> None:
    """The expected colour is the nearest of the colours 16 to 255 in Rich's palette."""
    from rich._palettes import EIGHT_BIT_PALETTE

    table = np.array([EIGHT_BIT_PALETTE[number] for number in range(16, 256)])
    step = np.arange(0, 32, 3) * 255 // 31
    wanted = np.stack(np.meshgrid(step, step, step), axis=-1).reshape(-1, 3)
    codes = Palette(Depth.INDEXED).codes(wanted[None].astype(np.uint8))[0]
    best = ((wanted[:, None] - table) ** 2).sum(axis=2).min(axis=1)
    assert (((table[codes - 16] - wanted) ** 2).sum(axis=1) == best).all()


def test_sixteen_colours_make_shades_of_patterns_and_leave_the_ground_black() -> None:
    palette = Palette(Depth.SIXTEEN)
    assert (palette.codes(blank(16, 16)) == 0).all()
    share = [np.isin(palette.codes(blank(16, 16, (level,) * 3)), [7, 15]).mean() for level in (90, 150, 180, 210)]
    assert share == sorted(share)
    assert share[0] < 0.1 < share[1] < 0.9 < share[3]


def test_codes_of_few_colours_are_sent_as_such() -> None:
    for depth, kinds in (
        (Depth.SIXTEEN, {ColorType.STANDARD}),
        (Depth.INDEXED, {ColorType.EIGHT_BIT, ColorType.STANDARD}),
    ):
        for strip in block_strips(noise(8, 8), depth):
            assert {style.color.type for _, style, _ in strip if style and style.color} <= kinds


@pytest.mark.parametrize("depth", list(Depth))
def test_a_dot_is_where_its_pixel_is(depth: Depth) -> None:
    """The Unicode name of a Braille pattern lists its raised dots (The Unicode Standard, chapter 21). The dots are
    numbered down the left column, then down the right column; dots 7 and 8 form the bottom row."""
    dot_at = {(0, 0): 1, (1, 0): 2, (2, 0): 3, (0, 1): 4, (1, 1): 5, (2, 1): 6, (3, 0): 7, (3, 1): 8}
    for (row, column), number in dot_at.items():
        picture = blank(2, 4, BLACK)
        picture[row, column] = WHITE
        (strip,) = dot_strips(picture, depth)
        assert unicodedata.name(strip.text) == f"BRAILLE PATTERN DOTS-{number}"


def test_without_colours_blocks_are_lit_by_lightness() -> None:
    picture = blank(4, 2, WHITE)
    picture[0, 1] = picture[1, 2] = picture[:, 3] = BLACK
    assert block_strips(picture, Depth.NONE)[0].text == "█▄▀ "
    for grey in (60, 120, 180):
        text = "".join(strip.text for strip in block_strips(blank(40, 40, (grey,) * 3), Depth.NONE))
        lit = sum({" ": 0, "▀": 1, "▄": 1, "█": 2}[one] for one in text) / 1600
        assert lit == pytest.approx((grey - 40) / 175, abs=1 / 16)


def test_letters_take_more_ink_the_lighter_a_pixel_is() -> None:
    greys = np.linspace(30, 255, 40).astype(np.uint8)
    (strip,) = letter_strips(np.repeat(np.tile(greys, (2, 1))[..., None], 3, axis=2))
    ramp = " .:-=+*%#@"
    places = [ramp.index(letter) for letter in strip.text]
    assert places == sorted(places)
    assert (places[0], places[-1]) == (0, len(ramp) - 1)


@pytest.mark.parametrize("depth", list(Depth))
def test_the_ground_is_one_segment_a_line(depth: Depth) -> None:
    for cells in cells_for(depth, False, dots=False):
        strips = cells.strips(blank(80, 40))
        assert all(len(list(strip)) == 1 and not strip.text.strip() for strip in strips)


def test_no_color_wins_over_what_the_terminal_can() -> None:
    assert depth_of("truecolor", no_color=True) is Depth.NONE
    assert depth_of(None, no_color=False) is Depth.NONE
    assert [depth_of(name, no_color=False) for name in ("truecolor", "256", "standard")] == COLOURED
    assert GROUND != BLACK
