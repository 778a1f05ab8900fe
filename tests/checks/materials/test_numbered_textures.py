"""Tests of `numbered-textures`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.materials import ALL, library, library_a_frame, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, Files, finding_of, heard, look, shot

SKIN = MATERIALS["skin.png"]


def series(pattern: str, numbers: range) -> Files:
    return {pattern % number: SKIN for number in numbers}


def test_an_image_for_each_frame(tmp_path: Path) -> None:
    files = with_library("map_Kd tex/skin.0001.png") | series("tex/skin.%04d.png", range(1, 13))
    said, inspection = broken(tmp_path, "numbered-textures", files)
    assert said == [("numbered-textures", "warning", ALL)]
    assert "one per frame" in finding_of(inspection, "numbered-textures").message


def test_tiles_by_number_where_uvs_leave_the_unit_square(tmp_path: Path) -> None:
    def wide(mesh: object) -> object:
        return mesh.edit(uvs=mesh.uvs * (3, 1))  # type: ignore[attr-defined]

    files = shot(dict.fromkeys(range(1, 13), wide)) | {"manta.mtl": library("map_Kd skin.1001.png")}
    said, inspection = broken(
        tmp_path,
        "numbered-textures",
        files | series("skin.%d.png", range(1001, 1004)),
        companions={
            "uv-outside": "UVs outside the unit square are a fact of their own",
            "map-aspect": "they are three times as wide on the map as before",
        },
    )
    assert ("numbered-textures", "warning", ALL) in said
    assert {check for check, severity, _ in said if severity != "note"} == {"numbered-textures"}
    assert "UV tiles" in finding_of(inspection, "numbered-textures").message


def test_a_library_a_frame_that_counts_the_image_up(tmp_path: Path) -> None:
    texts = {number: library(f"map_Kd skin.{number:04}.png") for number in range(1, 13)}
    said, inspection = broken(
        tmp_path,
        "numbered-textures",
        library_a_frame(texts) | series("skin.%04d.png", range(1, 13)),
        companions={"library-per-frame": "that there is a library for each frame is a fact of its own"},
    )
    assert said == [("library-per-frame", "note", ALL), ("numbered-textures", "warning", ALL)]
    assert (
        "different textures on different frames: `skin.0001.png`, `skin.0002.png`,"
        in finding_of(inspection, "numbered-textures").message
    )


def test_some_numbered_images_are_a_note(tmp_path: Path) -> None:
    files = with_library("map_Kd skin_2.png") | series("skin_%d.png", range(1, 5))
    assert heard(look(tmp_path, files)) == [("numbered-textures", "note", ALL)]


@pytest.mark.parametrize(
    ("name", "beside"),
    [
        ("skin_1.png", series("skin_%d.png", range(1, 3))),
        ("skin_v003.png", series("skin_v%03d.png", range(1, 9))),
        ("skin_1.png", series("skin_%d.png", range(1, 60, 10))),
        ("skin4.png", {"skin4.png": SKIN, "eye5.png": SKIN, "fin6.png": SKIN}),
    ],
    ids=["a left and a right one", "versions", "numbers far apart", "other names"],
)
def test_numbers_that_mean_no_series(name: str, beside: Files, tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_library(f"map_Kd {name}") | beside)) == []


def test_images_that_maps_name_one_by_one(tmp_path: Path) -> None:
    files = with_library("map_Kd a_1.png", "map_Ks a_2.png", "map_Ka a_3.png") | series("a_%d.png", range(1, 4))
    assert heard(look(tmp_path, files)) == []
