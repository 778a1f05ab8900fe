"""Tests of reading textures. Most of the textures are written with Pillow."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from inspector.errors import MeshqcError
from inspector.picture.image_files import IMAGE_PIXELS, read_picture
from tests.helpers.images import png_header


def saved(path: Path, image: Image.Image) -> Path:
    image.save(path)
    return path


def test_sixteen_bits_are_shown_with_eight(tmp_path: Path) -> None:
    values = np.array([[0, 255, 256, 32768, 65535]], np.uint16)
    path = saved(tmp_path / "deep.png", Image.fromarray(values))
    assert read_picture(path)[0, :, 0].tolist() == [0, 0, 1, 128, 255]


def test_palettes_and_their_transparency(tmp_path: Path) -> None:
    image = Image.new("P", (2, 1))
    image.putpalette([200, 100, 0, 9, 9, 9])
    image.putpixel((1, 0), 1)
    image.save(tmp_path / "p.png", transparency=1)
    assert read_picture(tmp_path / "p.png").tolist() == [[[200, 100, 0], [128, 128, 128]]]


def test_floating_point_is_refused_with_the_reason(tmp_path: Path) -> None:
    path = saved(tmp_path / "f.tif", Image.fromarray(np.ones((2, 2), np.float32)))
    with pytest.raises(MeshqcError, match="save it with 8 or 16 bits"):
        read_picture(path)


@pytest.mark.parametrize("side", [10_000, 60_000])
def test_too_many_pixels_are_not_decoded(tmp_path: Path, side: int) -> None:
    assert side**2 > IMAGE_PIXELS.value
    (tmp_path / "bomb.png").write_bytes(png_header(side, side))
    with pytest.raises(MeshqcError, match=r"bomb\.png: .*too many"):
        read_picture(tmp_path / "bomb.png")


def test_a_large_texture_comes_smaller_and_keeps_its_mean(tmp_path: Path) -> None:
    checks = (np.indices((64, 128)).sum(axis=0) % 2 * 200).astype(np.uint8)
    picture = read_picture(saved(tmp_path / "c.png", Image.fromarray(checks)), longest=32)
    assert picture.shape == (16, 32, 3)
    assert (picture == 100).all()
