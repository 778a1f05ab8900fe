"""texture-damaged: files that pillow can't decode."""

from __future__ import annotations

import struct
import zlib
from dataclasses import replace
from pathlib import Path

import pytest

from inspector.picture.image_files import IMAGE_PIXELS
from inspector.sequence.materials import image_cache
from tests.helpers.images import image_file, spots
from tests.helpers.materials import ALL, with_library, with_skin
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, heard, look

SKIN = MATERIALS["skin.png"]


def huge_png(width: int, height: int) -> bytes:
    """The head of a PNG of any size, and a few rows (PNG specification, 11.2.2 and 5.3)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    "image",
    [
        b"",
        b"<html>404</html>",
        b"\0" * 400,
        SKIN[:-60],
        SKIN[:20],
        SKIN[:60] + bytes([SKIN[60] ^ 0xFF]) + SKIN[61:],
        image_file(spots(), "JPEG")[:400],
    ],
    ids=["empty", "no image", "zeros", "cut off", "cut off in the header", "one byte flipped", "half a JPEG"],
)
def test_one_damage(image: bytes, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "texture-damaged", with_skin(image))
    assert said == [("texture-damaged", "error", ALL)]
    assert [where.file.raw for where in finding_of(inspection, "texture-damaged").where] == [b"manta.mtl"]


def test_a_texture_in_an_unknown_format_is_a_note(tmp_path: Path) -> None:
    files = with_library("map_Kd skin.exr") | {"skin.exr": b"v/1\x01\x02\0\0\0"}
    said, _ = broken(tmp_path, "texture-damaged", files)
    assert said == [("texture-damaged", "note", ALL)]


@pytest.mark.parametrize("side", [int(IMAGE_PIXELS.value**0.5) + 1, 200_000])
def test_an_image_that_would_fill_the_memory_is_not_decoded(side: int, tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_skin(huge_png(side, side)))) == [("texture-damaged", "note", ALL)]


def test_all_images_of_a_run_are_bounded_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(image_cache, "IMAGES_PIXELS", replace(image_cache.IMAGES_PIXELS, value=64 * 20))
    files = with_library("map_Kd skin.png", "map_Ks shine.png", shine=image_file(spots(128, 40)))
    (finding,) = look(tmp_path, files).findings
    assert (finding.severity.word, finding.numbers["textures"]) == ("note", 1)
    assert "shine.png" in finding.message


@pytest.mark.parametrize("format", ["PNG", "JPEG", "TIFF", "TGA", "BMP", "WEBP", "GIF", "JPEG2000", "PPM"])
def test_sound_images(format: str, tmp_path: Path) -> None:
    ending = {"JPEG2000": "jp2"}.get(format, format.lower())
    files = with_library(f"map_Kd a.{ending}") | {f"a.{ending}": image_file(spots(), format)}
    assert heard(look(tmp_path, files)) == []
