"""Tests of `texture-format`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.helpers.images import image_file, spots
from tests.helpers.materials import ALL, with_library, with_skin
from tests.helpers.one_thing import broken
from tests.helpers.sequences import Files, finding_of, heard, look

PICTURE = Image.fromarray(spots())
DEEP = np.arange(64 * 20, dtype=np.uint16).reshape(20, 64) * 30
HOLED = np.dstack([spots(), np.where(np.arange(64) < 16, 0, 255).astype(np.uint8)[None].repeat(20, axis=0)])


def turned() -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = 6  # Exif 2.3, 4.6.4: the image must be rotated by a quarter turn
    return exif


def with_jpeg(picture: Image.Image, **options: object) -> Files:
    return with_library("map_Kd a.jpg") | {"a.jpg": image_file(picture, "JPEG", **options)}


FORMS = {
    "ending": (lambda: with_skin(image_file(spots(), "JPEG")), "warning"),
    "colour model": (lambda: with_jpeg(PICTURE.convert("CMYK")), "warning"),
    "turned": (lambda: with_jpeg(PICTURE, exif=turned()), "warning"),
    "several images": (
        lambda: (
            with_library("map_Kd a.gif")
            | {"a.gif": image_file(PICTURE, "GIF", save_all=True, append_images=[Image.fromarray(255 - spots())])}
        ),
        "note",
    ),
    "alpha": (lambda: with_skin(image_file(HOLED)), "note"),
    "depth": (lambda: with_skin(image_file(DEEP)), "note"),
    "steps": (lambda: with_library("disp skin.png"), "note"),
    "two values": (lambda: with_skin(image_file(PICTURE.convert("1"))), "note"),
    "one colour": (lambda: with_skin(image_file(spots()[:1, :1].repeat(8, axis=0))), "note"),
    "large": (lambda: with_library("map_Ns a.png", a=image_file(np.arange(16385, dtype=np.uint8)[None])), "note"),
}


@pytest.mark.parametrize("kind", FORMS)
def test_one_form(kind: str, tmp_path: Path) -> None:
    files, severity = FORMS[kind]
    said, inspection = broken(tmp_path, "texture-format", files())
    assert said == [("texture-format", severity, ALL)]
    assert finding_of(inspection, "texture-format").numbers["kind"] == kind


def test_sixteen_bits_of_colour(tmp_path: Path) -> None:
    """Pillow reduces 16 bits per channel to 8, so the depth is read from the file header (PNG specification,
    11.2.2)."""
    stored = bytearray(image_file(np.zeros((4, 4), np.uint8)))
    assert stored[24] == 8
    deep = image_file(DEEP)
    assert deep[24] == 16
    said = heard(look(tmp_path, with_skin(deep)))
    assert said == [("texture-format", "note", ALL)]


@pytest.mark.parametrize(
    "files",
    [
        lambda: with_skin(image_file(np.dstack([spots(), np.full((20, 64), 255, np.uint8)]))),
        lambda: with_library("map_Kd skin.png", "map_d skin.png", skin=image_file(HOLED)),
        lambda: with_library("disp a.png", a=image_file(DEEP)),
        lambda: with_skin(image_file(PICTURE.convert("P"))),
        lambda: with_skin(image_file(PICTURE.convert("L"))),
        lambda: with_jpeg(PICTURE),
        lambda: with_library("map_Ns a.png", a=image_file(np.arange(16384, dtype=np.uint8)[None])),
    ],
    ids=["opaque alpha", "alpha for map_d", "deep displacement", "palette", "grey", "jpeg", "as long as may be"],
)
def test_plain_forms(files: object, tmp_path: Path) -> None:
    assert callable(files)
    assert heard(look(tmp_path, files())) == []
