"""Tests of `materials-change`."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.materials import ALL, library, library_a_frame
from tests.helpers.meshes import Mesh, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, Files, finding_of, frames, heard, look

WHITE = library("Kd 1 1 1", "map_Kd skin.png")


def test_one_frame_in_another_colour(tmp_path: Path) -> None:
    texts = dict.fromkeys(range(1, 13), WHITE) | {7: library("Kd 1 0 0", "map_Kd skin.png")}
    said, inspection = broken(tmp_path, "materials-change", library_a_frame(texts))
    assert said == [("materials-change", "warning", [7.0])]
    assert "differs between frames: `kd`" in finding_of(inspection, "materials-change").message


def test_a_colour_that_changes_throughout_is_one_finding(tmp_path: Path) -> None:
    texts = {number: library(f"Kd {number / 20} 0 0") for number in range(1, 13)}
    assert heard(look(tmp_path, library_a_frame(texts))) == [("materials-change", "warning", ALL[1:])]


def test_another_spelling_of_the_same_is_no_change(tmp_path: Path) -> None:
    texts = dict.fromkeys(range(1, 13), WHITE) | {7: b"# later\nnewmtl skin\n\nmap_Kd ./skin.png\r\nKd 1.0 1.000 1\r\n"}
    assert heard(look(tmp_path, library_a_frame(texts))) == [("library-per-frame", "note", ALL)]


def two_materials(border: int, names: tuple[str, str] = ("skin", "belly")) -> Mesh:
    marks = ((0, f"usemtl {names[0]}"), (border, f"usemtl {names[1]}"))
    return wing(1).edit(state=(), marks=marks)


def dressed(changed: dict[int, Mesh]) -> Files:
    meshes = {number: two_materials(6).edit(positions=wing(number).positions) for number in range(1, 13)}
    edited = {number: mesh.edit(positions=wing(number).positions) for number, mesh in changed.items()}
    texts = "".join(f"newmtl {name}\nKd 1 1 1\nmap_Kd skin.png\n" for name in ("skin", "belly", "fin"))
    return MATERIALS | frames(meshes | edited) | {"manta.mtl": texts.encode()}


def test_faces_of_another_material(tmp_path: Path) -> None:
    said = heard(look(tmp_path, dressed({5: two_materials(7)})))
    assert [one for one in said if one[1] != "note"] == [("materials-change", "warning", [5.0])]


def test_the_first_face_of_another_material_is_named(tmp_path: Path) -> None:
    finding = finding_of(look(tmp_path, dressed({5: two_materials(8)})), "materials-change")
    assert finding.message == "2 of 12 faces do not have the same material as in the reference frame"
    assert finding.where[0].element == "face 7"


def test_another_name_from_one_frame_on(tmp_path: Path) -> None:
    renamed = {number: two_materials(6, ("skin", "fin")) for number in range(9, 13)}
    finding = finding_of(look(tmp_path, dressed(renamed)), "materials-change")
    assert [float(number) for number in finding.frames] == [9, 10, 11, 12]
    assert "(missing: `belly`; new: `fin`)" in finding.message
