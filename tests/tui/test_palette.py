"""Tests of the contrast of colours on each kind of terminal."""

from __future__ import annotations

import numpy as np
import pytest
from rich.color import Color, ColorSystem
from rich.terminal_theme import TerminalTheme

from inspector.picture.canvas import GROUND
from inspector.picture.ramp import Ramp
from inspector.tui.pictures.bearings import AXES
from inspector.tui.pictures.cells import cells_for
from inspector.tui.pictures.colours import MIDDLE, Depth, luminance
from inspector.tui.pictures.step_letters import lettered
from inspector.tui.styles import FAINT, STYLES

AA = 4.5
"""Minimum contrast of text with its background (WCAG 2.2, success criterion 1.4.3)."""

# xterm's sixteen colours (XTerm-col.ad, from memory). The colours of other terminals differ slightly.
_DARK = [(0, 0, 0), (205, 0, 0), (0, 205, 0), (205, 205, 0), (0, 0, 238), (205, 0, 205), (0, 205, 205), (229, 229, 229)]
_LIGHT = [(127, 127, 127), (255, 0, 0), (0, 255, 0), (255, 255, 0), (92, 92, 255), (255, 0, 255), (0, 255, 255)]
XTERM = TerminalTheme((0, 0, 0), (229, 229, 229), _DARK, [*_LIGHT, (255, 255, 255)])
SYSTEMS = {Depth.TRUE: ColorSystem.TRUECOLOR, Depth.INDEXED: ColorSystem.EIGHT_BIT, Depth.SIXTEEN: ColorSystem.STANDARD}


def contrast(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    """Return the contrast ratio of two colours. Source: WCAG 2.2, "contrast ratio"."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def shown(colour: Color, depth: Depth) -> tuple[int, int, int]:
    return tuple(colour.downgrade(SYSTEMS[depth]).get_truecolor(XTERM))  # type: ignore[return-value]


def test_the_formula_with_published_values() -> None:
    """Source: WebAIM's contrast checker. #767676 is the lightest grey on white that meets level AA."""
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    assert contrast((0x76, 0x76, 0x76), (255, 255, 255)) == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("depth", list(SYSTEMS))
def test_severities_are_read_on_light_and_dark_terminals(depth: Depth) -> None:
    """Each severity has its own background, so the terminal's background doesn't matter."""
    papers = set()
    for style in STYLES.values():
        assert style.color is not None
        assert style.bgcolor is not None
        assert contrast(shown(style.color, depth), shown(style.bgcolor, depth)) >= AA
        papers.add(shown(style.bgcolor, depth))
    assert len(papers) == len(STYLES)


@pytest.mark.parametrize("depth", list(SYSTEMS))
def test_letters_of_steps_are_read_on_their_shades(depth: Depth) -> None:
    ramp, cells = Ramp(0.0, 1.0), cells_for(depth, False, dots=False)[0]
    width, height = cells.pixels(6 * 16, 2)
    steps = np.tile(np.repeat(np.arange(6), width // 6), (height, 1))
    found = set()
    for line in lettered(cells.strips(ramp.colours[steps]), steps, ramp, cells):
        for text, style, _ in line:
            for letter in set(text) & set(ramp.letters):
                found.add(letter)
                assert style is not None
                assert style.color is not None
                assert style.bgcolor is not None
                assert contrast(style.color.get_truecolor(XTERM), style.bgcolor.get_truecolor(XTERM)) >= AA
    assert found == set(ramp.letters)


def test_axes_are_read_on_the_ground() -> None:
    for colour in AXES.values():
        assert contrast(colour, GROUND) >= AA


@pytest.mark.parametrize("paper", [(0, 0, 0), (255, 255, 255), (253, 246, 227)], ids=["dark", "white", "cream"])
def test_dim_text_is_read_on_light_and_dark_terminals(paper: tuple[int, int, int]) -> None:
    """The colour of dim text is two thirds text colour and one third background (xterm and VTE, from memory)."""
    assert FAINT.color is None
    assert FAINT.bgcolor is None
    ink = (208, 208, 208) if luminance(paper) < MIDDLE else (0, 0, 0)
    red, green, blue = ((2 * own + behind) // 3 for own, behind in zip(ink, paper, strict=True))
    assert contrast((red, green, blue), paper) >= AA


def test_a_step_without_a_free_cell_gets_no_letter() -> None:
    """Half of each cell has step 0, and the other half step 1. Both steps have the same single free cell."""
    ramp, cells = Ramp(0.0, 1.0), cells_for(Depth.TRUE, False, dots=False)[0]
    width, height = cells.pixels(1, 1)
    steps = np.zeros((height, width), np.int64)
    steps[height // 2 :] = 1
    (line,) = lettered(cells.strips(ramp.colours[steps]), steps, ramp, cells)
    assert [letter for letter in ramp.letters if letter in line.text] == [ramp.letters[0]]
