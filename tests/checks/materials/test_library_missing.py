"""Tests of `library-missing`, `material-undefined` and `texture-missing`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.meshes import Mesh
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, heard, look, shot

ALL = [float(number) for number in range(1, 13)]


def names_library(name: str) -> object:
    return lambda mesh: mesh.edit(head=(f"mtllib {name}", "o manta"))


def names_material(name: str) -> object:
    return lambda mesh: mesh.edit(state=(f"usemtl {name}",))


def test_a_library_that_is_nowhere(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "library-missing", shot({5: names_library("old.mtl")}))
    assert said == [("library-missing", "error", [5.0])]
    finding = finding_of(inspection, "library-missing")
    assert (finding.numbers["status"], finding.where[0].line) == ("missing", 1)
    assert finding.fixes == ("share-library", "neutral-material"), "the other frames name a library that is there"


def test_a_library_that_is_nowhere_for_any_frame_leaves_a_neutral_material(tmp_path: Path) -> None:
    files = {name: data for name, data in shot().items() if name != "manta.mtl"} | {"fin.mtl": b"newmtl fin\n"}
    finding = finding_of(broken(tmp_path, "library-missing", files)[1], "library-missing")
    assert (finding.numbers["status"], finding.fixes) == ("missing", ("neutral-material",))


def test_a_library_that_no_frame_names_can_replace_one_that_is_nowhere(tmp_path: Path) -> None:
    files = shot(dict.fromkeys(range(1, 13), names_library("old.mtl")))
    finding = finding_of(broken(tmp_path, "library-missing", files)[1], "library-missing")
    assert (finding.numbers["status"], finding.fixes) == ("missing", ("share-library", "neutral-material"))


@pytest.mark.parametrize("name", ["MANTA.MTL", ".\\manta.mtl", "C:\\show\\manta.mtl", "materials/manta.mtl"])
def test_a_library_that_is_near(name: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "library-missing", shot({5: names_library(name)}))
    assert said == [("library-missing", "error", [5.0])]
    finding = finding_of(inspection, "library-missing")
    assert (finding.numbers["status"], finding.fixes) == ("near", ("share-library",))


def test_a_library_outside_is_named_and_not_opened(tmp_path: Path) -> None:
    (tmp_path / "manta_elsewhere.mtl").write_bytes(MATERIALS["manta.mtl"])
    said, inspection = broken(tmp_path, "library-missing", shot({5: names_library("../manta_elsewhere.mtl")}))
    assert said == [("library-missing", "warning", [5.0])]
    assert finding_of(inspection, "library-missing").numbers["status"] == "outside"


def test_all_frames_are_one_finding_and_their_materials_none_of_their_own(tmp_path: Path) -> None:
    files = {name: data for name, data in shot().items() if name != "manta.mtl"}
    assert heard(look(tmp_path, files)) == [("library-missing", "error", ALL)]


def test_a_material_that_no_library_defines(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "material-undefined", shot({5: names_material("wet skin")}))
    assert said == [("material-undefined", "warning", [5.0])]
    assert finding_of(inspection, "material-undefined").numbers == {"materials": 1, "first": "wet skin"}


@pytest.mark.parametrize(
    ("name", "library"),
    [("my red", b"newmtl my red\n"), ("Grey #1", b"newmtl Grey #1\r\n"), ("caf\u00e9", "newmtl caf\u00e9 \n".encode())],
)
def test_a_name_with_blanks_and_signs_is_found(name: str, library: bytes, tmp_path: Path) -> None:
    edits = dict.fromkeys(range(1, 13), names_material(name))
    assert heard(look(tmp_path, shot(edits) | {"manta.mtl": library})) == []


def test_names_counted_up_that_no_library_defines_are_one_finding(tmp_path: Path) -> None:
    edits = {number: names_material(f"skin.{number:03}") for number in range(1, 13)}
    said = [one for one in heard(look(tmp_path, shot(edits))) if one[0] == "material-undefined"]
    assert said == [("material-undefined", "warning", ALL)]


def test_two_names_that_begin_alike_are_two_materials(tmp_path: Path) -> None:
    edits = {**dict.fromkeys(range(1, 12), names_material("my red")), 12: names_material("my blue")}
    assert heard(look(tmp_path, shot(edits) | {"manta.mtl": b"newmtl my red\n"})) == [
        ("material-undefined", "warning", [12.0])
    ]


def test_a_material_used_before_its_library_is_named(tmp_path: Path) -> None:
    def late(mesh: Mesh) -> Mesh:
        return mesh.edit(head=("usemtl skin", "mtllib manta.mtl", "o manta"), state=())

    assert heard(look(tmp_path, shot(dict.fromkeys(range(1, 13), late)))) == []


def test_materials_without_any_library(tmp_path: Path) -> None:
    """Many public data sets contain `usemtl None`, but no material library."""

    def none(mesh: Mesh) -> Mesh:
        return mesh.edit(head=("o manta",), state=("usemtl None",))

    inspection = look(tmp_path, shot(dict.fromkeys(range(1, 13), none)))
    assert heard(inspection) == [("material-undefined", "warning", ALL)]
    assert dict(inspection.verdict.skipped)["black-colour"] == "the frames refer to no material library"


@pytest.mark.parametrize(
    ("written", "status"),
    [("gone.png", "missing"), ("SKIN.PNG", "near"), ("maps\\skin.png", "near"), ("Z:/maps/skin.png", "near")],
)
def test_a_texture_that_is_not_as_written(written: str, status: str, tmp_path: Path) -> None:
    library = f"newmtl skin\nmap_Kd -s 1 1 1 {written}\n".encode()
    said, inspection = broken(tmp_path, "texture-missing", shot() | {"manta.mtl": library})
    assert said == [("texture-missing", "error", ALL)]
    finding = finding_of(inspection, "texture-missing")
    assert finding.numbers["status"] == status
    assert [(where.file.raw, where.line) for where in finding.where] == [(b"manta.mtl", 2)]


def test_the_texture_beside_the_library_is_taken_and_the_second_candidate_named(tmp_path: Path) -> None:
    library = b"newmtl skin\nmap_Kd Z:\\show\\maps\\skin.png\n"
    files = shot() | {"manta.mtl": library, "old/maps/skin.png": MATERIALS["skin.png"]}
    finding = finding_of(look(tmp_path, files), "texture-missing")
    assert "found at `skin.png`" in finding.message
    assert finding.message.endswith("`old/maps/skin.png` has the same file name")


def test_a_texture_outside_is_named_and_not_opened(tmp_path: Path) -> None:
    library = b"newmtl skin\nmap_Kd ../other.png\n"
    said, _ = broken(tmp_path, "texture-missing", shot() | {"manta.mtl": library})
    assert said == [("texture-missing", "warning", ALL)]


def test_textures_of_materials_that_no_face_uses_are_not_missed(tmp_path: Path) -> None:
    library = MATERIALS["manta.mtl"] + b"newmtl other\nmap_Kd gone.png\n"
    assert heard(look(tmp_path, shot() | {"manta.mtl": library})) == [("unused-materials", "note", ALL)]


def test_an_added_folder_of_textures_is_searched(tmp_path: Path) -> None:
    folder = tmp_path / "library"
    folder.mkdir()
    (folder / "extra.png").write_bytes(MATERIALS["skin.png"])
    inspection = look(tmp_path / "in", shot() | {"manta.mtl": b"newmtl skin\nmap_Kd extra.png\n"}, textures=(folder,))
    assert finding_of(inspection, "texture-missing").numbers["status"] == "near"
