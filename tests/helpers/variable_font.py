"""A variable font with a known weight axis. Its letter I is an upright bar, which becomes wider as the weight
increases."""

from __future__ import annotations

from pathlib import Path

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib.tables._g_l_y_f import Glyph
from fontTools.ttLib.tables.TupleVariation import TupleVariation

HEIGHT = 700
"""Height of a capital in font units, with 1000 units per em."""
LIGHT, HEAVY = (200, 100), (800, 400)
"""Two weights, each with the width of the bar in font units.

For weights between these two, the width is interpolated linearly (OpenType, "gvar").
"""


def _bar(width: int) -> Glyph:
    pen = TTGlyphPen(None)
    pen.moveTo((50, 0))
    for point in ((50, HEIGHT), (50 + width, HEIGHT), (50 + width, 0)):
        pen.lineTo(point)
    pen.closePath()
    return pen.glyph()


def variable_font(path: Path) -> Path:
    """Write the font. Its letters I and H look the same."""
    names = [".notdef", "I", "H"]
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({ord("I"): "I", ord("H"): "H"})
    builder.setupGlyf({".notdef": _bar(20), "I": _bar(LIGHT[1]), "H": _bar(LIGHT[1])})
    builder.setupHorizontalMetrics(dict.fromkeys(names, (600, 50)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Bar", "styleName": "Regular"})
    builder.setupFvar([("wght", LIGHT[0], LIGHT[0], HEAVY[0], "Weight")], [])
    wider = HEAVY[1] - LIGHT[1]
    # four points of the bar, then four for the metrics of the glyph
    grown = [(0, 0), (0, 0), (wider, 0), (wider, 0), *[(0, 0)] * 4]
    change = {name: [TupleVariation({"wght": (0.0, 1.0, 1.0)}, grown)] for name in ("I", "H")}
    builder.setupGvar(change | {".notdef": []})
    builder.setupPost()
    builder.save(path)
    return path
