"""Tests of `colour-map-unnamed`. The names follow common practice (no source)."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.images import image_file, spots
from tests.helpers.materials import ALL, NORMALS, library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import Files, finding_of, heard, look, shot

IMAGE = image_file(spots())
PLAIN = {"manta.mtl": library("Kd 1 1 1")}
BUMPY = {"manta.mtl": library("Kd 1 1 1", "norm textures/Hull4k_Normal.png"), "textures/Hull4k_Normal.png": NORMALS}


def beside(name: str, data: bytes = IMAGE, files: Files = PLAIN) -> Files:
    return {path: text for path, text in shot().items() if path != "skin.png"} | files | {name: data}


@pytest.mark.parametrize(
    ("name", "files"),
    [
        ("skin.png", PLAIN),
        ("textures/Skin_BaseColor.png", PLAIN),
        ("maps/skin-albedo.png", PLAIN),
        ("textures/Hull4k_Color.png", BUMPY),
    ],
)
def test_an_image_of_that_name(name: str, files: Files, tmp_path: Path) -> None:
    good = beside("unlike.png", files=files)
    said, inspection = broken(tmp_path, "colour-map-unnamed", beside(name, files=files), good=good)
    assert said == [("colour-map-unnamed", "warning", ALL)]
    finding = finding_of(inspection, "colour-map-unnamed")
    assert f"`{name}`" in finding.message
    assert [where.line for where in finding.where] == [1]
    assert finding.fixes == ("name-colour-map",)


def test_of_two_images_none_is_chosen(tmp_path: Path) -> None:
    finding = finding_of(look(tmp_path, beside("skin_col.png") | {"skin_diffuse.png": IMAGE}), "colour-map-unnamed")
    assert "`skin_col.png` and `skin_diffuse.png`" in finding.message
    assert finding.fixes == ()


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("skin_mask.png", IMAGE),
        ("skin_normal.png", NORMALS),
        ("skin_roughness.png", image_file(spots()[..., 0])),
        ("skins.png", IMAGE),
        ("color.png", IMAGE),
        ("skin.0001.png", IMAGE),
        ("skin.png", NORMALS),
        ("skin.png", image_file(spots()[:1, :1])),
        ("skin.png", b"not an image"),
        ("other/skin.png", IMAGE),
    ],
)
def test_other_images_are_silent(name: str, data: bytes, tmp_path: Path) -> None:
    assert heard(look(tmp_path, beside(name, data))) == []


def test_an_image_that_is_named_elsewhere_is_silent(tmp_path: Path) -> None:
    glowing = {"manta.mtl": library("map_Ke skin.png")}
    assert heard(look(tmp_path / "a", beside("skin.png", files=glowing))) == []
    other = {"manta.mtl": library("Kd 1 1 1") + b"newmtl eye\nmap_Kd skin.png\n"}
    said = heard(look(tmp_path / "b", beside("skin.png", files=other)))
    assert [check for check, _, _ in said] == ["unused-materials"]
