"""Tests of PNGs, contact sheets, captions and the test grid. Pillow decodes the PNGs, which have known pixels."""

from __future__ import annotations

import io
import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from inspector.errors import MeshqcError
from inspector.picture.canvas import DARK, blank
from inspector.picture.font import ADVANCE, HEIGHT, fitted, written
from inspector.picture.grid import GLYPHS, grid_picture
from inspector.picture.image_files import read_picture
from inspector.picture.labels import fitted_label, label_size
from inspector.picture.png import pdf_bytes, png_bytes
from inspector.picture.sheet import Captioned, contact_sheet, side_by_side

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


@pytest.mark.parametrize("content", [b"", b"not a readable picture", png_bytes(RAMP)[:40]])
def test_what_is_no_picture_is_named(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "manta\x1b[31m.png"
    path.write_bytes(content)
    with pytest.raises(MeshqcError, match=r"manta\\x1b\[31m\.png: can't be read as an image") as caught:
        read_picture(path)
    assert "\x1b" not in str(caught.value)
    assert "BufferedReader" not in str(caught.value)  # words of a library for programmers
    with pytest.raises(MeshqcError, match="can't be read as an image"):
        read_picture(tmp_path / "nowhere.png")


def test_a_contact_sheet_places_pictures_and_captions() -> None:
    colours = [(10, 20, 30), (40, 50, 60), (70, 80, 90)]
    entries = [Captioned(blank(40, 30, colour), f"f{number}") for number, colour in enumerate(colours)]
    line = label_size("", 13)[1]
    sheet = contact_sheet(entries, columns=2)
    assert sheet.shape == (2 * (30 + line + 6) + 6, 2 * 46 + 6, 3)
    below = 6 + 30 + line + 6
    assert [sheet[6, 6].tolist(), sheet[6, 52].tolist(), sheet[below, 6].tolist()] == [list(c) for c in colours]
    assert sheet[below, 52].tolist() == list(DARK)
    words = sheet[6 + 30 : below, 6 : 6 + label_size("f0", 13)[0]]
    assert (words > 200).any()  # letters, in the light colour of the ink
    assert (sheet[6 + 30 : below, 40:46] == DARK).all()  # nothing beside the letters
    titled = contact_sheet(entries, columns=2, title="kelp")
    assert titled.shape[0] == sheet.shape[0] + line + 6
    assert np.array_equal(titled[line + 6 :][6:36, 6:46], sheet[6:36, 6:46])


def test_versions_side_by_side_without_gaps() -> None:
    colours = [(10, 20, 30), (40, 50, 60), (70, 80, 90)]
    entries = [Captioned(blank(80, 60, colour), f"frame {number}") for number, colour in enumerate(colours)]
    whole = side_by_side(entries, 2, 10)
    assert whole.shape == (120, 160, 3)
    assert [whole[59, 79].tolist(), whole[59, 159].tolist(), whole[119, 79].tolist()] == [list(c) for c in colours]
    for row, column in ((0, 0), (0, 80), (60, 0)):
        assert (whole[row : row + 30, column : column + 70] > 200).any()  # the letters of the caption


def test_labels_are_safe_and_cut_in_their_middle() -> None:
    assert fitted_label("manta.0001.obj", 500, 13) == "manta.0001.obj"
    short = fitted_label("manta_broken_again.0001.obj", 90, 13)
    assert label_size(short, 13)[0] <= 90
    assert (short[:3], short[-3:]) == ("man", "obj")
    assert ".." in short
    assert label_size("\x1b", 13) == label_size("\\x1b", 13)
    assert fitted_label("kelp", 1, 13)


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
    white = (grid_picture(800, 400)[..., 0] == 250).sum(axis=1)
    rows = np.flatnonzero(white)
    assert rows[0] >= 40
    assert rows[-1] < 360
    widest = int(white.argmax())
    assert widest - rows[0] < 40
    assert white[rows[0]] < white[widest]
    assert len(np.unique(white[widest + 2 : rows[-1]])) == 1


def test_a_pdf_has_a_page_of_a4_for_each_picture_and_no_date_of_today() -> None:
    """Pages are counted by their objects (ISO 32000-1, 7.7.3.3). A4 in landscape is 297 by 210 mm (ISO 216)."""
    pictures = [blank(640, 360, (90, 0, 0)), blank(320, 700), blank(80, 60)]
    data = pdf_bytes(pictures)
    assert data.startswith(b"%PDF-")
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", data)
    assert len(boxes) == len(re.findall(rb"/Type\s*/Page\b", data)) == 3
    for width, height in boxes:
        assert float(width) == pytest.approx(297 / 25.4 * 72, abs=0.5)
        assert float(height) == pytest.approx(210 / 25.4 * 72, abs=0.5)
    assert data == pdf_bytes(pictures)
    first = data[data.index(b"\xff\xd8\xff") :]  # JPEG's SOI, a marker (ITU-T T.81, table B.1)
    with Image.open(io.BytesIO(first)) as sheet:
        page = np.asarray(sheet)
    assert page[0].min() > 250  # white on all sides
    assert page[-1].min() > 250
    middle = page[page.shape[0] // 2].astype(int)
    assert np.abs(middle[page.shape[1] // 2] - (90, 0, 0)).max() <= 6
    assert (middle[:, 1] < 128).sum() == pytest.approx(640, abs=2)
