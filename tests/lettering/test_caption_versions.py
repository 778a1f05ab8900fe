"""Tests of caption versions on sheets in front of a pinhole camera.

The letters are measured in pictures that the tests' own z-buffer draws (helpers/zbuffer.py).
"""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms
from scipy import ndimage

from inspector.errors import MeshqcError
from inspector.formats.wavefront.reader import read_frame
from inspector.lettering.caption_file import Version, read_captions
from inspector.lettering.caption_versions import CaptionCase
from inspector.lettering.legibility import READ_PIXELS, Obstacle
from inspector.lettering.viewpoint import View
from inspector.report.captions_text import letters_words, reads
from inspector.sequence.discovery.scope import Scope
from inspector.surface.islands import face_materials
from inspector.surface.triangles import triangulate
from tests.helpers.captioned import FONTS, SHEET, VIEW, WHITE, cases_of, overlap, read, seen_ink
from tests.helpers.meshes import Mesh, mapped
from tests.helpers.shapes import remapped, scanned, series_of, sheet_mesh, with_screen
from tests.helpers.variable_font import HEIGHT, variable_font
from tests.helpers.zbuffer import seen_uvs, shown

BENT = sheet_mesh(lambda u, v: (7 * np.sin(2 * u - 1), 4 * v - 2, 7 * np.cos(2 * u - 1) - 7), 16, 2)
"""A part of an upright cylinder. The part is 4 units high, and its arc is 14 units long."""


SMALL = replace(VIEW, width=480, height=270)


def capital_height(ink: np.ndarray) -> float:
    """Return the mean height, in pixels, of the stems in a line of capital Hs. The stems are a letter's tallest
    columns."""
    heights = np.array([np.ptp(rows) + 1 if len(rows := np.flatnonzero(column)) else 0 for column in ink.T])
    starts = np.flatnonzero((heights > 0) & (np.roll(heights, 1) == 0))
    letters = [part[: (part == 0).argmax()] for part in np.split(np.append(heights, 0), starts)[1:]]
    return float(np.mean([np.percentile(letter, 90) for letter in letters]))


@pytest.mark.parametrize("name", FONTS)
@pytest.mark.parametrize("mesh", [SHEET, BENT], ids=["flat", "bent"])
def test_letters_are_as_high_as_in_the_picture(tmp_path: Path, name: str, mesh: Mesh) -> None:
    version = Version("a", ("HHHH",), FONTS[name], colour=(0, 0, 0))
    (case,) = cases_of(tmp_path, mesh, version, view=VIEW)
    assert case.reading is not None
    measured = capital_height(seen_ink(mesh, case))
    assert case.reading.seen.height[0] == pytest.approx(measured, rel=0.05)
    assert measured > 40


def test_text_reads_right_however_the_texture_is_laid(tmp_path: Path) -> None:
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
        (case,) = cases_of(tmp_path / name, mesh, version, view=SMALL, base=base, density=20.0)
        assert case.reading is not None
        assert case.reading.obstacles() == (None,)
        assert case.reading.seen.mirrored[0] == 0.0
        assert case.reading.seen.turned[0] == pytest.approx(0.0, abs=1e-6)
        pictures[name] = seen_ink(mesh, case)
    plain = pictures.pop("plain")
    assert overlap(plain, plain[:, ::-1]) < 0.6, "letters that are no mirror images of themselves"
    assert {name: round(overlap(plain, ink), 1) for name, ink in pictures.items()} == dict.fromkeys(pictures, 1.0)


def test_a_squeezed_base_map_does_not_squeeze_the_letters(tmp_path: Path) -> None:
    version = Version("a", ("HO",), colour=(0, 0, 0))
    drawn = []
    for width, height in ((320, 180), (240, 240)):
        base = np.full((height, width, 3), 255, np.uint8)
        (case,) = cases_of(tmp_path / str(width), SHEET, version, view=SMALL, base=base)
        drawn.append(seen_ink(SHEET, case))
    assert overlap(*drawn) > 0.97


def test_boxes_are_in_pixels_of_the_map_from_its_top_left(tmp_path: Path) -> None:
    version = Version("a", ("HE",), colour=(0, 0, 0), align="left", box=(40, 30, 240, 80))
    (case,) = cases_of(tmp_path, SHEET, version, view=VIEW, density=20.0)
    assert case.lettered is not None
    assert (case.box, case.size) == ((40, 30, 240, 80), (320, 180))
    ink = case.lettered.rendered.pixels[..., 0] < 128
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    assert columns[0] == pytest.approx(40, abs=1)
    assert (rows[0], rows[-1] + 1) == (pytest.approx(30, abs=1), pytest.approx(80, abs=1))
    assert columns[-1] < 200


def test_letters_at_the_edge_of_the_texture_are_seen(tmp_path: Path) -> None:
    """Because of rounding, such letters may start outside the texture or in the next unit square."""
    versions = [
        Version(
            f"{width}-{align}", ("HE", "LLO"), colour=(0, 0, 0), outline=(9, 9, 9), outline_width=width, align=align
        )
        for width in (0.1, 0.12, 0.15, 0.17)
        for align in ("left", "right")
    ]
    for shift in (0.0, 1.0):
        mesh = remapped(SHEET, lambda u, v, shift=shift: (u + shift, v - shift))
        for case in cases_of(tmp_path / str(shift), mesh, *versions, view=SMALL):
            assert case.reading is not None
            assert case.reading.seen.seen[0] > 0.97, case.version.name


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
    assert high.refusal.startswith("the text is 10 pixels too high (it needs ")
    assert "capitals 50 pixels high would fit" in high.refusal
    assert wide.refusal is not None
    assert "pixels too wide" in wide.refusal
    assert wide.unreadable


def test_contrast_is_that_of_the_letters_to_what_is_under_them(tmp_path: Path) -> None:
    """#767676 on white has a contrast of 4.54 (tests/picture/test_contrast.py). Half-opaque black on white looks like
    #808080, which has a contrast of 3.95. The contrast of letters with an outline is measured against the outline."""
    grey = (0x76, 0x76, 0x76)
    plain, half, outlined, same = cases_of(
        tmp_path,
        SHEET,
        Version("plain", ("HH",), colour=grey),
        Version("half", ("HH",), colour=(0, 0, 0), opacity=0.4980),
        Version("outlined", ("HH",), colour=WHITE, outline=grey, outline_width=0.1),
        Version("same", ("HH",), colour=WHITE),
        view=SMALL,
    )
    ratios = [case.reading.contrast[0] for case in (plain, half, outlined, same) if case.reading is not None]
    assert ratios == pytest.approx([4.542, 3.949, 4.542, 1.0], abs=6e-3)
    assert same.reading is not None
    assert same.reading.obstacles() == (Obstacle.FAINT,)
    assert plain.reading is not None
    assert plain.reading.obstacles() == (None,)


def test_small_letters_need_more_contrast(tmp_path: Path) -> None:
    """#949494 on white, 3.03 to 1, is enough only for large letters (WCAG 2.x, 1.4.3)."""
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
    turned = SHEET.edit(positions=SHEET.positions * (-1, 1, 1))
    early, all_frames, none = cases_of(
        tmp_path,
        {1: SHEET, 2: SHEET, 3: turned},
        Version("early", ("HH",), colour=(0, 0, 0), frames=(Fraction(1), Fraction(2))),
        Version("all", ("HH",), colour=(0, 0, 0)),
        Version("none", ("HH",), colour=(0, 0, 0), frames=(Fraction(8), Fraction(9))),
        view=SMALL,
    )
    assert [case.unreadable for case in (early, all_frames, none)] == [False, True, True]
    assert all_frames.reading is not None
    assert all_frames.reading.obstacles() == (None, None, Obstacle.AWAY)
    assert all_frames.reading.unreadable == (Fraction(3),)


def test_an_unknown_island_is_refused_with_the_islands_that_have_a_safe_box(tmp_path: Path) -> None:
    """The second island is only a tenth as high in frame 2 as in frame 1, so no letter keeps its shape on it."""
    corners = np.array([(0, 0, 0), (8, 0, 0), (8, 9, 0), (0, 9, 0)], float)
    uvs = np.array([(u + shift, v) for shift in (0.0, 0.5) for u, v in ((0, 0), (0.4, 0), (0.4, 1), (0, 1))])
    faces = [(0, 1, 2, 3), (4, 5, 6, 7)]
    meshes = {
        number: mapped(np.concatenate([corners - (8, 0, 0), corners * (1, height, 1)]), faces, uvs)
        for number, height in ((1, 1.0), (2, 0.1))
    }
    (flat,) = cases_of(tmp_path / "flat", meshes, Version("a", ("H",), box=1), view=SMALL)
    assert flat.refusal == "no part of island 1 is safe for lettering"
    with pytest.raises(MeshqcError, match=r"there is no island 5 with space for lettering; islands with space: 0$"):
        cases_of(tmp_path / "unknown", meshes, Version("a", ("H",), box=5), view=SMALL)


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


def letter_columns(case: CaptionCase) -> list[tuple[int, int]]:
    """Return, for each letter of a line, its first column and the column after its last column."""
    assert case.lettered is not None
    inked = np.flatnonzero((case.lettered.rendered.pixels[..., 0] < 128).any(axis=0))
    letters = np.split(inked, np.flatnonzero(np.diff(inked) > 1) + 1)
    return [(int(letter[0]), int(letter[-1]) + 1) for letter in letters]


def test_letters_that_are_hidden_are_named(tmp_path: Path) -> None:
    """From 20 units away, a screen one unit in front of the sheet hides a letter if the screen is 19/20 as large as the
    letter. Without one of twelve letters, the text reads differently, although more than nine tenths of it is
    visible."""
    (whole,) = cases_of(tmp_path / "whole", SHEET, Version("a", ("HHHHHHHHHHHH",), colour=(0, 0, 0)), view=VIEW)
    assert whole.reading is not None
    assert whole.lettered is not None
    assert whole.reading.by_letter.min() > 0.99
    width, box = whole.lettered.rendered.pixels.shape[1], whole.lettered.layout.ink_box
    left, right = (19 / 20 * (16 * column / width - 8) for column in letter_columns(whole)[3])
    low, high = (19 / 20 * (9 * side - 4.5) for side in (box.bottom, box.top))
    hidden, two_fifths, three_fifths = (
        with_screen(SHEET, left, right, low - 0.1, low + share * (high - low)) for share in (1.1, 0.4, 0.6)
    )
    (case,) = cases_of(tmp_path / "hidden", {1: hidden, 2: two_fifths, 3: three_fifths}, whole.version, view=VIEW)
    reading = case.reading
    assert reading is not None
    assert reading.seen.seen.min() > 0.9
    assert reading.obstacles() == (Obstacle.HIDDEN, None, Obstacle.HIDDEN)
    assert [reads(reading, at) for at in range(3)] == ["HHH_HHHHHHHH", "HHHHHHHHHHHH", "HHH_HHHHHHHH"]
    assert reading.by_letter[:, 3] == pytest.approx([0, 0.6, 0.4], abs=0.15)  # a capital has eight rows of samples
    assert np.delete(reading.by_letter, 3, axis=1).min() > 0.99
    assert letters_words(reading, 1) == f"H of HHHHHHHHHHHH {reading.by_letter[1, 3]:.0%} seen"


def test_letters_at_a_grazing_angle_are_not_counted(tmp_path: Path) -> None:
    """A letter is lost if more than half of it is seen at an angle whose cosine is below 0.2.

    The cylinder has a radius of 7 units. The camera is 27 units from its axis and 20 units from its front. At azimuth
    a, the cosine is (27 cos a - 7) divided by the distance from the camera (law of cosines).
    """
    turn = np.radians(80)
    bent = sheet_mesh(
        lambda u, v: (7 * np.sin(turn * (2 * u - 1)), 4 * v - 2, 7 * np.cos(turn * (2 * u - 1)) - 7), 64, 2
    )
    version = Version("a", ("HHHHHHHHHHHHHHHH",), colour=(0, 0, 0))
    (case,) = cases_of(tmp_path, bent, version, view=VIEW)
    assert case.reading is not None
    assert case.lettered is not None
    width = case.lettered.rendered.pixels.shape[1]
    expected = ""
    for first, last in letter_columns(case):
        azimuth = turn * (2 * (np.arange(first, last) + 0.5) / width - 1)
        cosine = (27 * np.cos(azimuth) - 7) / np.sqrt(27**2 + 7**2 - 2 * 27 * 7 * np.cos(azimuth))
        expected += "H" if (cosine >= 0.2).mean() >= 0.5 else "_"
    assert "_" in expected
    assert reads(case.reading, 0) == expected


def test_letters_of_several_lines_are_told_apart(tmp_path: Path) -> None:
    version = Version("a", ("AB", "gÄ"), colour=(0, 0, 0), box=(0, 0, 320, 180))
    (plain,) = cases_of(tmp_path / "a", SHEET, version, view=VIEW)
    assert plain.lettered is not None
    rows = (plain.lettered.rendered.pixels[..., 0] < 128).any(axis=1)
    gap = next(row for row in range(int(rows.argmax()), len(rows)) if not rows[row])
    top = 19 / 20 * (4.5 - 9 * gap / len(rows))
    (case,) = cases_of(tmp_path / "b", with_screen(SHEET, -9, 9, -5, top), version, view=VIEW)
    assert case.reading is not None
    assert reads(case.reading, 0) == "AB | __"


def test_a_turned_outline_is_as_wide_as_a_plain_one(tmp_path: Path) -> None:
    square = sheet_mesh(lambda u, v: (8 * u - 4, 8 * v - 4, 0 * u), 2, 2)
    version = Version("a", ("FR",), colour=WHITE, outline=(0, 0, 0), outline_width=0.15)
    base = np.full((200, 200, 3), 255, np.uint8)
    rings = []
    for name, layout in (("plain", lambda u, v: (u, v)), ("turned", lambda u, v: (v, 1 - u))):
        mesh = remapped(square, layout)
        (case,) = cases_of(tmp_path / name, mesh, version, view=SMALL, base=base, density=20.0)
        rings.append(seen_ink(mesh, case))
    assert rings[0].sum() > 500
    assert overlap(*rings) > 0.9


def test_the_weight_of_a_variable_font(tmp_path: Path) -> None:
    """The bar of tests/helpers/variable_font.py widens from 100 to 400 units between the weights 200 and 800."""
    font = variable_font(tmp_path / "bar.ttf")
    versions = [Version(f"w{weight}", ("I",), font, weight, colour=(0, 0, 0)) for weight in (200, 500, 800)]
    cases = cases_of(tmp_path, SHEET, Version("none", ("I",), font, colour=(0, 0, 0)), *versions, view=SMALL)
    widths = []
    for case in cases:
        assert case.lettered is not None
        ink = case.lettered.rendered.pixels[..., 0] < 128
        rows, columns = ink.any(axis=1).sum(), ink.any(axis=0).sum()
        aspect = case.lettered.rendered.pixels.shape[1] / case.lettered.rendered.pixels.shape[0] / (16 / 9)
        widths.append(columns / rows * HEIGHT / aspect)
    assert widths == pytest.approx([100, 100, 250, 400], rel=0.03)
    with pytest.raises(MeshqcError, match="version a: the font has weights from 200 to 800, not 900"):
        cases_of(tmp_path, SHEET, Version("a", ("I",), font, 900))
    with pytest.raises(MeshqcError, match="one weight"):
        cases_of(tmp_path, SHEET, Version("a", ("I",), FONTS["round"], 900))


def test_enlarged_maps_have_no_halo(tmp_path: Path) -> None:
    base = np.full((18, 32, 4), (60, 60, 60, 255), np.uint8)
    base[:, 16:] = 200, 200, 200, 255
    base[:4] = 0, 0, 0, 0
    base[:2] = 255, 0, 0, 255
    version = Version("a", ("I",), colour=(100, 100, 100), box=(2, 12, 5, 16), material="skin")
    (case,) = cases_of(tmp_path, SHEET, version, view=SMALL, base=base)
    assert case.lettered is not None
    pixels = case.lettered.rendered.pixels
    assert len(pixels) > 100
    lower = pixels[len(pixels) // 2 :, :, :3]
    assert (lower.min(), lower.max()) == (60, 200)
    upper = pixels[: len(pixels) // 6][pixels[: len(pixels) // 6, :, 3] > 8].astype(int)
    assert upper[:, 0].min() > 230
    assert upper[:, 1:3].max() < 25


def saved(image: Image.Image, **words: object) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "PNG", **words)
    return stream.getvalue()


def test_what_a_map_loses_is_said(tmp_path: Path) -> None:
    """A grey profile can't be used for RGB. The colour space of a profile is at byte 16 (ICC.1:2022, 7.2)."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    grey = profile[:16] + b"GRAY" + profile[20:]
    flat = np.full((18, 32), 255, np.uint8)
    files = {
        "rgb": saved(Image.fromarray(np.stack([flat] * 3, axis=-1)), icc_profile=profile),
        "grey": saved(Image.fromarray(flat), icc_profile=grey),
        "deep": saved(Image.fromarray(flat.astype(np.uint16) * 257)),
    }
    for name, data in files.items():
        (tmp_path / f"{name}.png").write_bytes(data)
    versions = [Version(name, ("I",), base=tmp_path / f"{name}.png", material="skin") for name in files]
    cases = cases_of(tmp_path, SHEET, *versions, view=SMALL)
    bases = {case.version.name: case.base for case in cases if case.base is not None}
    assert {name: base.profile for name, base in bases.items()} == {"rgb": profile, "grey": b"", "deep": b""}
    assert bases["rgb"].lost == ()
    assert bases["grey"].lost == (
        "the base map's ICC profile is for GRAY, so the rendered texture is RGB without a profile",
    )
    assert bases["deep"].lost == ("the base map has 16 bits per channel, but the rendered texture has 8",)


def test_letters_end_without_halos(tmp_path: Path) -> None:
    colour, ground = (10, 40, 90), (240, 230, 200)
    version = Version("a", ("ROSE",), colour=colour)
    (on,) = cases_of(tmp_path / "on", SHEET, version, view=SMALL, base=np.full((90, 160, 3), ground, np.uint8))
    assert on.lettered is not None
    pixels = on.lettered.rendered.pixels[..., :3].reshape(-1, 3).astype(int)
    share = (pixels - ground) / np.subtract(colour, ground)
    assert (share.min(), share.max()) == (0.0, 1.0)
    assert np.ptp(share, axis=1).max() < 0.02, "one mixture in all three channels"
    named = {1: SHEET.edit(state=("usemtl skin",))}
    (off,) = read(tmp_path / "off", series_of(tmp_path / "off", named), (version,), SMALL, None)
    assert off.lettered is not None
    pixels = off.lettered.rendered.pixels
    assert {tuple(one) for one in pixels[pixels[..., 3] > 0][:, :3].tolist()} == {colour}
    assert 0 < (pixels[..., 3] == 255).mean() < 0.5


@pytest.mark.parametrize("number", [12, 15, 19])
def test_letters_behind_the_lantern_of_the_buoy(demo: Path, number: int) -> None:
    """A letter's visible fraction is its pixel count on the whole buoy, divided by its pixel count on the label
    alone."""
    folder = demo / "buoy"
    scope, series = Scope(folder), scanned(folder)
    (version,) = (one for one in read_captions(folder / "captions.toml", scope) if one.name == "en")
    (case,) = read(folder, series, (version,), replace(View(), width=960, height=540), None)
    assert case.lettered is not None
    assert case.reading is not None
    parts, letters = _letters(case)
    camera, shot = case.lettered.shot.camera, case.lettered.shot
    frame = read_frame((folder / f"buoy.{number:04}.obj").read_bytes())
    names, which = face_materials(frame)
    triangles = triangulate(frame.corners, frame.positions)
    label = np.array([name is not None and name.text == "buoy_label" for name in names])[which[triangles.face]]
    corners, uvs = frame.positions[triangles.vertices], frame.uvs[frame.corners.vt[triangles.corners]]
    eye = camera.position, camera.target, camera.field_of_view, shot.width, shot.height
    alone = shown(parts, seen_uvs(corners[label], uvs[label], *eye))
    uvs[~label] = np.nan
    whole = shown(parts, seen_uvs(corners, uvs, *eye))
    shares = [(whole == part).sum() / (alone == part).sum() for part in letters]
    at = case.reading.seen.frames.index(Fraction(number))
    assert case.reading.by_letter[at] == pytest.approx(shares, abs=0.08)
    assert min(shares) < 0.65


def _letters(case: CaptionCase) -> tuple[np.ndarray, list[int]]:
    """Return, for each pixel of the texture, (h, w), the number of the letter there, or 0 if there is none. Also return
    the letters' numbers in reading order."""
    assert case.lettered is not None
    assert case.box is not None
    assert case.base is not None
    pixels = case.lettered.rendered.pixels[..., :3].astype(int)
    ink = np.abs(pixels - case.version.colour).sum(axis=2) < 60
    left, top, right, bottom = np.array(case.box) * (len(ink) / case.base.size[1])
    kept = np.zeros_like(ink)
    inside = slice(int(top) + 1, int(bottom)), slice(int(left) + 1, int(right))
    kept[inside] = ink[inside]
    parts, count = ndimage.label(kept)
    rows, columns = np.array(ndimage.center_of_mass(kept, parts, range(1, count + 1))).T
    order = np.lexsort((columns, rows > len(ink) / 2)) + 1
    assert count == len("HARBOURAQUARIUM")
    return parts, order.tolist()
