"""Tests of `portable-names`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.broken.materials import ODD_PATHS
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.materials import library, with_library
from tests.helpers.sequences import MATERIALS, Files, shot

SKIN = MATERIALS["skin.png"]

PORTABLE = {
    "what?.png": "what_.png",
    "ab:c.png": "ab_c.png",
    "maps/aux.png": "maps/_aux.png",
    "maps./skin.png": "maps/skin.png",
    "wet skin.png": "wet_skin.png",
    "m\u00e5nta.png": "manta.png",
}


@pytest.mark.parametrize("name", ODD_PATHS)
def test_a_texture(name: str, tmp_path: Path) -> None:
    files = with_library(f"map_Kd {name}") | {name: SKIN}
    files.pop("skin.png", None)
    result = fixed(tmp_path, files, "portable-names")
    assert result.after["manta.mtl"] == library(f"map_Kd {PORTABLE[name]}")
    assert result.after[PORTABLE[name]] == SKIN
    assert name not in result.after
    assert result.changed() == {"manta.mtl"}
    assert result.delivery.after.inspections[0].findings == ()


def test_a_library_and_its_folder(tmp_path: Path) -> None:
    edits = dict.fromkeys(range(1, 13), lambda mesh: mesh.edit(head=("mtllib wet maps/wet manta.mtl", "o manta")))
    files = shot(edits) | {"wet maps/wet manta.mtl": library("map_Kd ../skin.png", "map_Ks wet skin.png")}
    del files["manta.mtl"]
    result = fixed(tmp_path, files | {"wet maps/wet skin.png": SKIN}, "portable-names")
    assert result.after["wet_maps/wet_manta.mtl"] == library("map_Kd ../skin.png", "map_Ks wet_skin.png")
    assert result.after["wet_maps/wet_skin.png"] == SKIN
    assert b"mtllib wet_maps/wet_manta.mtl\n" in result.after["manta.0007.obj"]
    assert result.touched("manta.0007.obj") == {b"mtllib"}
    assert [finding.check for _, finding in result.delivery.proof.gone] == ["paths-not-portable"]
    assert result.delivery.proof.clean


def test_two_names_that_would_become_one_are_refused(tmp_path: Path) -> None:
    files = with_library("map_Kd wet skin.png", "map_Ks wet_skin.png") | {"wet skin.png": SKIN, "wet_skin.png": SKIN}
    with pytest.raises(Refusal, match=r"two files would get the name wet_skin\.png"):
        plan_for(tmp_path, files, "portable-names")


@pytest.mark.parametrize("files", [shot(), with_library("map_Kd wet gone.png")])
def test_refusals(tmp_path: Path, files: Files) -> None:
    with pytest.raises(Refusal, match="every library and texture that was found already has a portable name"):
        plan_for(tmp_path, files, "portable-names")
