"""normal-map: colours as directions, -1 to 1 as 0 to 255 (common practice, no source)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.images import image_file, normals, spots
from tests.helpers.materials import ALL, NORMALS, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look

NOISE = np.random.default_rng(5).integers(0, 256, (20, 64, 3)).astype(np.uint8)

FORMS = {
    "none": ("norm a.png", image_file(spots(96, 30))),
    "as height": ("bump a.png", NORMALS),
    "as colour": ("map_Kd a.png", NORMALS),
}


@pytest.mark.parametrize("kind", FORMS)
def test_one_form(kind: str, tmp_path: Path) -> None:
    line, image = FORMS[kind]
    said, inspection = broken(tmp_path, "normal-map", with_library(line, a=image))
    severity = {"none": "error", "as height": "note", "as colour": "warning"}[kind]
    assert said == [("normal-map", severity, ALL)]
    assert finding_of(inspection, "normal-map").numbers["kind"] == kind


@pytest.mark.parametrize("image", [NOISE, spots()[..., 0], np.full((8, 8, 3), 128, np.uint8)])
def test_no_directions(image: np.ndarray, tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_library("norm a.png", a=image_file(image)))) == [("normal-map", "error", ALL)]


def islands() -> np.ndarray:
    """A normal map of which most is unused space, black."""
    image = normals()
    image[:, 20:] = 0
    return image


def toned(colour: tuple[int, int, int]) -> np.ndarray:
    """A picture about one colour, a little lighter and darker: sand or sky, unit vectors by chance."""
    light = np.random.default_rng(2).integers(-12, 13, (20, 64, 1))
    return np.clip(np.array(colour) + light, 0, 255).astype(np.uint8)


@pytest.mark.parametrize(
    ("line", "image"),
    [
        ("norm a.png", NORMALS),
        ("norm a.png", image_file(islands())),
        ("norm a.png", image_file(np.full((8, 8, 3), (128, 128, 255), np.uint8))),
        ("bump a.png", image_file(spots()[..., 0])),
        ("bump a.png", image_file(spots())),
        ("map_Kd a.png", image_file(NOISE)),
        ("map_Kd a.png", image_file(toned((200, 195, 188)))),
        ("map_Kd a.png", image_file(toned((135, 206, 235)))),
        ("bump a.png", image_file(toned((214, 200, 180)))),
    ],
)
def test_maps_that_are_what_they_are_named(line: str, image: bytes, tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_library(line, a=image))) == []


@pytest.mark.parametrize("quality", [90, 30])
def test_a_compressed_normal_map_is_one(quality: int, tmp_path: Path) -> None:
    files = with_library("norm a.jpg") | {"a.jpg": image_file(normals(), "JPEG", quality=quality)}
    assert heard(look(tmp_path, files)) == []
