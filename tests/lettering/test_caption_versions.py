"""Caption versions on sheets before a pinhole camera. Pictures come from the tests' own z-buffer (helpers/zbuffer.py),
into which the rendered texture is laid; letters are measured in them."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from inspector.lettering.caption_file import Version
from inspector.lettering.legibility import READ_PIXELS, Obstacle
from tests.helpers.captioned import FONTS, SHEET, VIEW, WHITE, cases_of, overlap, read, seen_ink
from tests.helpers.meshes import Mesh
from tests.helpers.shapes import remapped, series_of, sheet_mesh

BENT = sheet_mesh(lambda u, v: (7 * np.sin(2 * u - 1), 4 * v - 2, 7 * np.cos(2 * u - 1) - 7), 16, 2)
"""A part of an upright cylinder, 14 units of arc wide and 4 high."""


def capital_height(ink: np.ndarray) -> float:
    """Pixels that a line of H comes to: of each letter the tallest columns of ink, its stems; the mean of all."""
    heights = np.array([np.ptp(rows) + 1 if len(rows := np.flatnonzero(column)) else 0 for column in ink.T])
    starts = np.flatnonzero((heights > 0) & (np.roll(heights, 1) == 0))
    letters = [part[: (part == 0).argmax()] for part in np.split(np.append(heights, 0), starts)[1:]]
    return float(np.mean([np.percentile(letter, 90) for letter in letters]))


@pytest.mark.parametrize("name", FONTS)
@pytest.mark.parametrize("mesh", [SHEET, BENT], ids=["flat", "bent"])
def test_letters_are_as_high_as_in_the_seen_ink(tmp_path: Path, name: str, mesh: Mesh) -> None:
    version = Version("a", ("HHHH",), FONTS[name], colour=(0, 0, 0))
    (case,) = cases_of(tmp_path, mesh, version, view=VIEW)
    assert case.reading is not None
    measured = capital_height(seen_ink(mesh, case))
    assert case.reading.seen.height[0] == pytest.approx(measured, rel=0.05)
    assert measured > 40


def test_text_reads_right_however_the_texture_is_laid(tmp_path: Path) -> None:
    """On a mirrored, a turned and an upside-down layout the same picture comes out as on the plain one."""
    square = sheet_mesh(lambda u, v: (8 * u - 4, 8 * v - 4, 0 * u), 2, 2)
    version = Version("a", ("FR",), colour=(0, 0, 0))
    base = np.full((200, 200, 3), 255, np.uint8)
    layouts = {
        "plain": lambda u, v: (u, v),
        "mirrored": lambda u, v: (1 - u, v),
        "turned": lambda u, v: (v, 1 - u),
        "upside down": lambda u, v: (1 - u, 1 - v),
        "turned and mirrored": lambda u, v: (v, u),
    }
    pictures = {}
    for name, layout in layouts.items():
        mesh = remapped(square, layout)
        (case,) = cases_of(tmp_path / name, mesh, version, view=VIEW, base=base, density=40.0)
        assert case.reading is not None
        assert case.reading.obstacles() == (None,)
        assert case.reading.seen.mirrored[0] == 0.0
        assert case.reading.seen.turned[0] == pytest.approx(0.0, abs=1e-6)
        pictures[name] = seen_ink(mesh, case)
    plain = pictures.pop("plain")
    assert overlap(plain, plain[:, ::-1]) < 0.6, "letters that are no mirror images of themselves"
    assert {name: round(overlap(plain, ink), 1) for name, ink in pictures.items()} == dict.fromkeys(pictures, 1.0)


def test_a_squeezed_base_map_does_not_squeeze_the_letters(tmp_path: Path) -> None:
    """A square map on a sheet of 16 by 9: the same picture as from a map of that aspect."""
    version = Version("a", ("HO",), colour=(0, 0, 0))
    drawn = []
    for width, height in ((320, 180), (240, 240)):
        base = np.full((height, width, 3), 255, np.uint8)
        (case,) = cases_of(tmp_path / str(width), SHEET, version, view=VIEW, base=base)
        drawn.append(seen_ink(SHEET, case))
    assert overlap(*drawn) > 0.97


def test_boxes_are_in_pixels_of_the_map_from_its_top_left(tmp_path: Path) -> None:
    """Left-aligned text begins at the box's left side, and as high as fits it ends at its upper and lower sides."""
    version = Version("a", ("HE",), colour=(0, 0, 0), align="left", box=(40, 30, 240, 80))
    (case,) = cases_of(tmp_path, SHEET, version, view=VIEW, density=20.0)
    assert case.lettered is not None
    assert (case.box, case.size) == ((40, 30, 240, 80), (320, 180))
    ink = case.lettered.rendered.pixels[..., 0] < 128
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    assert columns[0] == pytest.approx(40, abs=1)
    assert (rows[0], rows[-1] + 1) == (pytest.approx(30, abs=1), pytest.approx(80, abs=1))
    assert columns[-1] < 200


def test_a_stated_height_is_that_of_capitals_and_must_fit(tmp_path: Path) -> None:
    box = (40, 30, 240, 80)
    fits, tight, high, wide = cases_of(
        tmp_path,
        SHEET,
        Version("fits", ("H",), colour=(0, 0, 0), height=20, box=box),
        Version("tight", ("H",), height=49.9, box=box),
        Version("high", ("H",), height=60, box=box),
        Version("wide", ("HHHHHHHHHH",), height=40, box=box),
        view=VIEW,
        density=20.0,
    )
    assert fits.lettered is not None
    rows = np.flatnonzero((fits.lettered.rendered.pixels[..., 0] < 128).any(axis=1))
    assert rows[-1] + 1 - rows[0] == pytest.approx(20, abs=1)
    assert tight.refusal is None
    assert high.refusal is not None
    assert high.refusal.startswith("10 pixels too high: ")
    assert "capitals 50 pixels high would fit" in high.refusal
    assert wide.refusal is not None
    assert "pixels too wide" in wide.refusal
    assert wide.unreadable


def test_contrast_is_that_of_the_letters_to_what_is_under_them(tmp_path: Path) -> None:
    """#767676 on white has 4.54 (tests/picture/test_contrast.py); half of black laid on white shows as #808080, 3.95;
    with an outline the letters' ground is the outline."""
    grey = (0x76, 0x76, 0x76)
    plain, half, outlined, same = cases_of(
        tmp_path,
        SHEET,
        Version("plain", ("HH",), colour=grey),
        Version("half", ("HH",), colour=(0, 0, 0), opacity=0.4980),
        Version("outlined", ("HH",), colour=WHITE, outline=grey, outline_width=0.1),
        Version("same", ("HH",), colour=WHITE),
        view=VIEW,
    )
    ratios = [case.reading.contrast[0] for case in (plain, half, outlined, same) if case.reading is not None]
    assert ratios == pytest.approx([4.542, 3.949, 4.542, 1.0], abs=6e-3)
    assert same.reading is not None
    assert same.reading.obstacles() == (Obstacle.FAINT,)
    assert plain.reading is not None
    assert plain.reading.obstacles() == (None,)


def test_small_letters_need_more_contrast(tmp_path: Path) -> None:
    """#949494 on white, 3.03 to 1: enough for large letters, not for small ones (WCAG 2.x, 1.4.3)."""
    grey = (0x94, 0x94, 0x94)
    large, small = cases_of(
        tmp_path,
        SHEET,
        Version("large", ("HH",), weight=400, colour=grey, height=40),
        Version("small", ("HH",), weight=400, colour=grey, height=3.5),
    )
    assert large.reading is not None
    assert small.reading is not None
    assert large.reading.obstacles() == (None,)
    assert READ_PIXELS <= small.reading.seen.height[0] < 24 * 0.64, "capitals of some 0.65 ems"
    assert small.reading.obstacles() == (Obstacle.FAINT,)


def test_only_the_stated_frames_have_to_be_readable(tmp_path: Path) -> None:
    """The sheet turns away in frame 3."""
    turned = SHEET.edit(positions=SHEET.positions * (-1, 1, 1))
    early, all_frames, none = cases_of(
        tmp_path,
        {1: SHEET, 2: SHEET, 3: turned},
        Version("early", ("HH",), colour=(0, 0, 0), frames=(Fraction(1), Fraction(2))),
        Version("all", ("HH",), colour=(0, 0, 0)),
        Version("none", ("HH",), colour=(0, 0, 0), frames=(Fraction(8), Fraction(9))),
        view=VIEW,
    )
    assert [case.unreadable for case in (early, all_frames, none)] == [False, True, True]
    assert all_frames.reading is not None
    assert all_frames.reading.obstacles() == (None, None, Obstacle.AWAY)
    assert all_frames.reading.unreadable == (Fraction(3),)


def test_letters_without_a_glyph_are_named(tmp_path: Path) -> None:
    (case,) = cases_of(tmp_path, SHEET, Version("a", ("H中漢",)), view=VIEW)
    assert case.refusal == "SourceSansPro-Bold.ttf has no glyph for 中, 漢; choose another font"


def test_without_a_base_map_the_letters_are_on_a_transparent_ground(tmp_path: Path) -> None:
    bare = Version("a", ("HH",), colour=(0, 0, 0), material="no material")
    (case,) = read(tmp_path, series_of(tmp_path, {1: SHEET}), (bare,), VIEW, None)
    assert case.lettered is not None
    assert case.reading is not None
    opacity = case.lettered.rendered.pixels[..., 3]
    assert (opacity.min(), opacity.max()) == (0, 255)
    assert np.isnan(case.reading.contrast).all()
    assert case.reading.obstacles() == (None,)
