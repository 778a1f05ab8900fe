"""Tests of `normal-map`. Channel values from 0 to 255 stand for -1 to 1 (common practice, no source)."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from inspector.sequence.materials.image_cache import ImageFacts, coloured
from tests.helpers.images import image_file, normals, spots
from tests.helpers.materials import ALL, NORMALS, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import Heard, finding_of, heard, look

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
    """Return a normal map whose unused space is black."""
    image = normals()
    image[:, 20:] = 0
    return image


def toned(colour: tuple[int, int, int]) -> np.ndarray:
    """Return an image in light and dark shades of a colour. The tests use colours of sand and sky that happen to be
    unit vectors if they are decoded as normals."""
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


def rough(seed: int = 3, width: int = 256, height: int = 80) -> np.ndarray:
    """Return a normal map of gravel, whose slopes change from pixel to pixel."""
    slopes = np.random.default_rng(seed).normal(size=(height, width, 2))
    normal = np.dstack([slopes, np.ones((height, width))])
    return np.rint((normal / np.linalg.norm(normal, axis=2, keepdims=True) + 1) * 127.5).astype(np.uint8)


@pytest.mark.parametrize("quality", [90, 50])
def test_a_rough_normal_map_stays_one_when_it_is_compressed(quality: int, tmp_path: Path) -> None:
    """With 4:2:0 sampling, JPEG halves the resolution of chroma (ITU-T T.81, A.1.1). Therefore, many vectors of a
    compressed normal map do not have length 1."""
    compressed = image_file(rough(), "JPEG", quality=quality, subsampling="4:2:0")
    lengths = np.linalg.norm(np.asarray(Image.open(io.BytesIO(compressed)), float) / 127.5 - 1, axis=2)
    assert (np.abs(lengths - 1) > 0.2).mean() > 0.3
    assert heard(look(tmp_path, with_library("norm a.jpg") | {"a.jpg": compressed})) == []


@pytest.mark.parametrize(("red", "said"), [(118, []), (110, [("normal-map", "error", ALL)])])
def test_only_colours_that_lean_straight_outwards_are_taken_for_one(
    red: int, said: list[Heard], tmp_path: Path
) -> None:
    """The mean vector of a normal map may lean sideways by up to 0.1 (NORMAL_STRAIGHT). A red value of 118 stands for
    -0.07, and 110 stands for -0.14."""
    light = np.random.default_rng(2).integers(-60, 61, (20, 64, 1))
    paint = np.clip(np.array((red, 128, 190)) + light, 0, 255).astype(np.uint8)
    assert heard(look(tmp_path, with_library("norm a.png", a=image_file(paint)))) == said


def sphere(inward: float) -> np.ndarray:
    """Return a normal map, calculated in closed form. Over a fraction `inward` of the map's width, the normals point
    inwards (z below 0)."""
    half = np.linspace(-1, 1, 64)
    longitude = np.pi / 2 * np.where(np.abs(half) < 1 - inward, half / (1 - inward), 1 + (np.abs(half) - 1 + inward))
    latitude = np.linspace(-1.2, 1.2, 20)[:, None]
    x, y, z = np.cos(latitude) * np.sin(longitude), np.sin(latitude), np.cos(latitude) * np.cos(longitude)
    return np.rint((np.stack(np.broadcast_arrays(x, y, z), axis=-1) + 1) * 127.5).astype(np.uint8)


@pytest.mark.parametrize(("inward", "said"), [(0.2, []), (0.3, [("normal-map", "warning", ALL)])])
def test_normals_that_point_inwards_are_not_of_tangent_space(inward: float, said: list[Heard], tmp_path: Path) -> None:
    """In a map in tangent space, at most a quarter of the normals may point inwards (NORMAL_INWARD)."""
    inspection = look(tmp_path, with_library("norm a.png", a=image_file(sphere(inward))))
    assert heard(inspection) == said
    if said:
        assert finding_of(inspection, "normal-map").numbers["kind"] == "inward"


TANGENT = ImageFacts(mean=(0.0, 0.0, 0.9), along_grey=0.58)
"""Measurements of a healthy normal map."""


@pytest.mark.parametrize(
    ("measured", "found"),
    [
        ({"mean": (0.39, 0.0, 0.9)}, True),
        ({"mean": (0.41, 0.0, 0.9)}, False),
        ({"mean": (0.0, 0.0, 0.39)}, False),
        ({"mean": (0.0, 0.0, 0.41)}, True),
        ({"off_length": 0.049}, True),
        ({"off_length": 0.051}, False),
        ({"inward": 0.049}, True),
        ({"inward": 0.051}, False),
    ],
)
def test_which_colours_alone_make_a_normal_map(measured: dict[str, Any], found: bool) -> None:
    assert replace(TANGENT, **measured).looks_like_normals is found


@pytest.mark.parametrize(
    ("measured", "found"),
    [
        ({"off_length": 0.24, "mean": (0.2, 0.0, 0.9)}, False),
        ({"off_length": 0.26, "mean": (0.2, 0.0, 0.9)}, True),
        ({"off_length": 0.9, "mean": (0.0, -0.09, 0.9)}, False),  # straight outwards, so the lengths don't matter
        ({"off_length": 0.9, "mean": (0.0, -0.11, 0.9)}, True),
        ({"off_length": 0.9, "mean": (0.0, 0.0, 0.41)}, False),
        ({"off_length": 0.9, "mean": (0.0, 0.0, 0.39)}, True),
        ({"along_grey": 0.79}, False),
        ({"along_grey": 0.81}, True),
    ],
)
def test_what_makes_a_named_normal_map_none(measured: dict[str, Any], found: bool) -> None:
    assert replace(TANGENT, **measured).is_no_normal_map is found


@pytest.mark.parametrize(
    ("red", "blue", "off"), [(127, 25, False), (127, 26, True), (255, 212, False), (255, 213, True)]
)
def test_which_length_is_off(red: int, blue: int, off: bool) -> None:
    """In the four cases, the vectors have the lengths 0.804, 0.796, 1.1996 and 1.204. A length may differ from 1 by up
    to 0.2 (NORMAL_LENGTH_OFF)."""
    pixels = np.array([[red, 127, blue], [red, 128, blue]], np.int64)
    assert bool(coloured(ImageFacts(), pixels).off_length) is off
