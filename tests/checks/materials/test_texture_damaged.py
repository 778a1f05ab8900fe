"""Tests of `texture-damaged`. A texture is damaged if Pillow can't decode it."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import pytest

from tests.helpers.images import image_file, spots
from tests.helpers.materials import ALL, with_library, with_skin
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, heard, look

SKIN = MATERIALS["skin.png"]


def huge_png(width: int, height: int) -> bytes:
    """Return a PNG file whose header states `width` x `height` pixels, but which contains only 1,000 bytes of pixel
    data.

    Source: PNG specification, 11.2.2 and 5.3.
    """

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


@pytest.mark.parametrize(
    ("width", "height", "decoded"), [(8192, 8192, True), (8193, 8192, False), (200_000, 200_000, False)]
)
def test_an_image_that_would_fill_the_memory_is_not_decoded(
    width: int, height: int, decoded: bool, tmp_path: Path
) -> None:
    """The image is cut off, which is detected only if the image is decoded."""
    said = heard(look(tmp_path, with_skin(huge_png(width, height))))
    assert said == [("texture-damaged", "error" if decoded else "note", ALL)]


def test_all_images_of_a_run_are_bounded_together(tmp_path: Path) -> None:
    """Four images reach the limit for all decoded images together. Only the header of the fifth is read."""
    slots = ("map_Kd", "map_Ks", "map_Ka", "map_Ns", "disp")
    lines = [f"{slot} {slot}.png" for slot in slots]
    images = {f"{slot}.png": huge_png(8192, 8192) for slot in slots}
    damaged, left = look(tmp_path, with_library(*lines) | images).findings
    assert (damaged.severity.word, damaged.numbers["textures"]) == ("error", 4)
    assert (left.severity.word, left.numbers["textures"]) == ("note", 1)


@pytest.mark.parametrize("format", ["PNG", "JPEG", "TIFF", "TGA", "BMP", "WEBP", "GIF", "JPEG2000", "PPM"])
def test_sound_images(format: str, tmp_path: Path) -> None:
    ending = {"JPEG2000": "jp2"}.get(format, format.lower())
    files = with_library(f"map_Kd a.{ending}") | {f"a.{ending}": image_file(spots(), format)}
    assert heard(look(tmp_path, files)) == []
