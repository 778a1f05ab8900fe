"""PNGs decoded with Pillow and checked at known pixels; contact sheets, captions, our own grid."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from inspector.errors import MeshqcError
from inspector.picture.canvas import DARK, INK, blank
from inspector.picture.font import ADVANCE, HEIGHT, fitted, written
from inspector.picture.grid import GLYPHS, grid_picture
from inspector.picture.image_files import read_picture
from inspector.picture.png import png_bytes
from inspector.picture.sheet import Captioned, contact_sheet

RAMP = np.arange(4 * 5 * 3).reshape(4, 5, 3).astype(np.uint8)


def test_a_png_holds_the_picture() -> None:
    with Image.open(io.BytesIO(png_bytes(RAMP))) as image:
        assert (image.format, image.mode, image.size) == ("PNG", "RGB", (5, 4))
        assert image.getpixel((3, 2)) == tuple(RAMP[2, 3].tolist())
        assert np.array_equal(np.asarray(image), RAMP)


def test_a_texture_is_read_and_its_transparency_laid_on_grey(tmp_path: Path) -> None:
    path = tmp_path / "kelp.png"
    Image.fromarray(np.array([[[200, 100, 0, 255], [200, 100, 0, 0]]], np.uint8), "RGBA").save(path)
    assert read_picture(path).tolist() == [[[200, 100, 0], [128, 128, 128]]]
    grey = tmp_path / "grey.png"
    Image.fromarray(np.array([[7]], np.uint8)).save(grey)
    assert read_picture(grey).tolist() == [[[7, 7, 7]]]


@pytest.mark.parametrize("content", [b"", b"not a picture", png_bytes(RAMP)[:40]])
def test_what_is_no_picture_is_named(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "manta\x1b[31m.png"
    path.write_bytes(content)
    with pytest.raises(MeshqcError, match=r"manta\\x1b\[31m\.png: not a picture") as caught:
        read_picture(path)
    assert "\x1b" not in str(caught.value)
    assert "BufferedReader" not in str(caught.value)  # a library's words for programmers
    with pytest.raises(MeshqcError, match="not a picture"):
        read_picture(tmp_path / "nowhere.png")


def test_a_contact_sheet_places_pictures_and_captions() -> None:
    """Two columns of boxes of 40 x 30 with gaps of 6, and 15 pixels for a line: by hand."""
    colours = [(10, 20, 30), (40, 50, 60), (70, 80, 90)]
    entries = [Captioned(blank(40, 30, colour), f"f{number}") for number, colour in enumerate(colours)]
    sheet = contact_sheet(entries, columns=2)
    assert sheet.shape == (2 * (30 + 15 + 6) + 6, 2 * 46 + 6, 3)
    assert [sheet[6, 6].tolist(), sheet[6, 52].tolist(), sheet[57, 6].tolist()] == [list(c) for c in colours]
    assert sheet[57, 52].tolist() == list(DARK)
    line = sheet[6 + 30 + 4 : 6 + 30 + 4 + HEIGHT, 6 : 6 + 2 * ADVANCE]
    assert np.array_equal((line == INK).all(axis=2), written("f0"))


def test_captions_are_safe_and_cut_in_their_middle() -> None:
    assert fitted("manta.0001.obj", 200) == "manta.0001.obj"
    assert fitted("manta_broken.0001.obj", 13 * ADVANCE) == "manta_..1.obj"
    assert len(fitted("manta_broken.0001.obj", 3)) == 1
    assert written("\x1b").shape == (HEIGHT, len("\\x1b") * ADVANCE)
    assert written("").shape == (HEIGHT, 0)
    assert written("ab", 3).shape == (3 * HEIGHT, 6 * ADVANCE)


def test_the_font_has_all_of_ascii_and_no_two_characters_alike() -> None:
    seen = {written(chr(code)).tobytes() for code in range(32, 127)}
    assert len(seen) == 95
    assert written("é").tobytes() not in seen


def test_the_grids_glyphs_differ_from_their_mirror_images_and_turns() -> None:
    for glyph in GLYPHS:
        dots = written(glyph)[:7, :5]
        for other in (dots[:, ::-1], dots[::-1], dots[::-1, ::-1]):
            assert not np.array_equal(dots, other), glyph


@pytest.mark.parametrize(("width", "height"), [(960, 540), (300, 900), (64, 64), (1000, 37), (5, 5)])
def test_the_grid_has_the_asked_size_and_square_cells(width: int, height: int) -> None:
    picture = grid_picture(width, height)
    assert picture.shape == (height, width, 3)
    assert (picture == picture[..., :1]).all()
    corner = picture[2, : min(width, height)]
    assert len(np.unique(corner)) > 1
    side = min(width, height) / 8
    if side >= 8:
        row = picture[2, :, 0].astype(int)
        lines = np.flatnonzero(row == 60)
        assert np.diff(lines) == pytest.approx(side, abs=max(1.0, side * 0.06))


def test_the_grids_arrow_points_up() -> None:
    """White: narrow at the tip, wider below, then the shaft's width to the foot."""
    white = (grid_picture(800, 400)[..., 0] == 250).sum(axis=1)
    rows = np.flatnonzero(white)
    assert rows[0] >= 40
    assert rows[-1] < 360
    widest = int(white.argmax())
    assert widest - rows[0] < 40
    assert white[rows[0]] < white[widest]
    assert len(np.unique(white[widest + 2 : rows[-1]])) == 1
