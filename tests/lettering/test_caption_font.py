"""Tests of the sizes of captions.

The references are the fonts' own tables, read by fontTools: outlines (glyf, CFF), advances (hmtx) and characters
(cmap). Source: OpenType 1.9.
"""

from __future__ import annotations

import io
from importlib import resources
from pathlib import Path

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

from inspector.lettering.caption_font import EM, CaptionFont, caption_font
from inspector.sequence.discovery.scope import Scope
from tests.helpers.captioned import FONTS, ROOTS

LINES = ("HARBOUR", "g\u00c4jQ")


def opened(file: Path | None) -> tuple[CaptionFont, TTFont]:
    """Load a font file twice: as a caption font, and with fontTools. If `file` is None, load the tool's own bold
    font."""
    own = caption_font(file, None, Scope(Path(), ROOTS))
    folder = resources.files("font_source_sans_pro") / "files"
    data = (folder / "SourceSansPro-Bold.ttf").read_bytes() if file is None else file.read_bytes()
    return own, TTFont(io.BytesIO(data))


def bounds(font: TTFont, letter: str) -> tuple[float, float, float, float, float]:
    """Return the left, bottom, right and top of a letter's outline relative to the letter's origin, and the letter's
    advance, in ems."""
    glyphs, name = font.getGlyphSet(), font.getBestCmap()[ord(letter)]
    pen = BoundsPen(glyphs)
    glyphs[name].draw(pen)
    em = font["head"].unitsPerEm
    left, bottom, right, top = pen.bounds
    return left / em, bottom / em, right / em, top / em, font["hmtx"][name][0] / em


@pytest.mark.parametrize("name", FONTS)
def test_a_capital_is_as_high_as_its_outline(name: str) -> None:
    own, font = opened(FONTS[name])
    _, bottom, _, top, _ = bounds(font, "H")
    assert own.capital == pytest.approx(top - bottom, abs=2 / EM)


@pytest.mark.parametrize("name", FONTS)
@pytest.mark.parametrize("line", LINES)
def test_a_line_is_as_wide_and_high_as_its_outlines(name: str, line: str) -> None:
    """The width is the sum of the advances, without the space before the first letter and after the last letter.

    In basic layout, only a `kern` table causes kerning, and none of the fonts has this table.
    """
    own, font = opened(FONTS[name])
    assert "kern" not in font
    each = [bounds(font, letter) for letter in line]
    width = sum(one[4] for one in each[:-1]) + each[-1][2] - each[0][0]
    height = max(one[3] for one in each) - min(one[1] for one in each)
    block = own.block([line], "left", 0.0)
    assert (block.width / EM, block.height / EM) == (pytest.approx(width, rel=0.01), pytest.approx(height, rel=0.01))


@pytest.mark.parametrize("name", FONTS)
def test_letters_that_the_font_lacks(name: str) -> None:
    own, font = opened(FONTS[name])
    text = "AZ\u00df\u03a9\u0416\u4e2d\u20ac"
    lacking = "".join(letter for letter in text if ord(letter) not in font.getBestCmap())
    assert own.missing(text) == lacking
    assert "\u4e2d" in lacking
