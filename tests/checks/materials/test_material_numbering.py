"""Tests of `material-numbering`."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.broken.materials import counted_materials
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, heard, look, shot


def named(name: str) -> object:
    return lambda mesh: mesh.edit(state=(f"usemtl {name}",))


def test_names_counted_up(tmp_path: Path) -> None:
    files = shot({number: named(f"skin.{number:03}") for number in range(3, 7)})
    said, inspection = broken(tmp_path, "material-numbering", files | {"manta.mtl": counted_materials(range(3, 7))})
    assert said == [("material-numbering", "warning", [3.0, 4.0, 5.0, 6.0])]
    assert finding_of(inspection, "material-numbering").numbers["names"] == 5


def test_numbered_materials_beside_each_other_are_what_they_are(tmp_path: Path) -> None:
    both = {
        number: lambda mesh: mesh.edit(state=("usemtl skin", "f 1 2 7", "usemtl skin.001")) for number in range(1, 13)
    }
    files = shot(both | {3: lambda mesh: mesh.edit(state=("usemtl skin", "f 1 2 7", "usemtl skin"))})
    said = heard(look(tmp_path, files | {"manta.mtl": counted_materials(range(1, 2))}))
    assert "material-numbering" not in {check for check, _, _ in said}


def test_another_material_is_no_number(tmp_path: Path) -> None:
    files = shot({3: named("wet")}) | {"manta.mtl": MATERIALS["manta.mtl"] + b"newmtl wet\n"}
    assert heard(look(tmp_path, files)) == [("materials-change", "warning", [3.0])]
