"""Tests of the cache of images."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from inspector.errors import MeshqcError
from inspector.picture.image_files import read_picture
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.image_cache import ImageCache, ImageFacts


def facts_of(path: Path) -> ImageFacts:
    return ImageCache(Scope(path.parent)).of(path)


def progressive_jpeg(scans: int) -> bytes:
    """Return a progressive JPEG file that contains its last scan `scans` times. ITU-T T.81 allows any number of
    scans."""
    stream = io.BytesIO()
    noise = np.random.default_rng(7).integers(0, 256, (64, 64, 3), np.uint8)
    Image.fromarray(noise).save(stream, "JPEG", progressive=True)
    data = stream.getvalue()
    last = data.rindex(b"\xff\xda")
    return data[:last] + data[last:-2] * scans + data[-2:]


def test_a_jpeg_of_a_thousand_scans_is_not_decoded(tmp_path: Path) -> None:
    path = tmp_path / "skin.jpg"
    path.write_bytes(progressive_jpeg(1000))
    assert "progressive scans" in (facts_of(path).unjudged or "")
    with pytest.raises(MeshqcError, match="progressive scans"):
        read_picture(path)


def test_a_usual_progressive_jpeg_is_decoded(tmp_path: Path) -> None:
    path = tmp_path / "skin.jpg"
    path.write_bytes(progressive_jpeg(1))
    assert facts_of(path).decoded
    assert read_picture(path).shape == (64, 64, 3)


@pytest.mark.parametrize("count", [1, 2, 200])
def test_the_images_of_a_tiff_are_not_counted(tmp_path: Path, count: int) -> None:
    path = tmp_path / "skin.tif"
    one = Image.new("RGB", (2, 2), (9, 8, 7))
    one.save(path, save_all=True, append_images=[one] * (count - 1))
    facts = facts_of(path)
    assert (facts.decoded, facts.several) == (True, count > 1)
