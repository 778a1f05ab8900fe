"""Tests of `faces-without-material`. A `usemtl` line applies to the faces after it (OBJ Appendix B1 v3.0)."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.broken.materials import without_material
from tests.helpers.materials import ALL
from tests.helpers.one_thing import FACE, TEXT, broken
from tests.helpers.sequences import finding_of, heard, look, shot

HEAD, _, FACES = TEXT.partition(b"usemtl skin\n")


def test_a_face_before_the_first_material(tmp_path: Path) -> None:
    text = HEAD + FACE + b"\nusemtl skin\n" + FACES.replace(FACE + b"\n", b"")
    said, inspection = broken(tmp_path, "faces-without-material", shot() | {"manta.0005.obj": text})
    assert said == [("faces-without-material", "warning", [5.0])]
    finding = finding_of(inspection, "faces-without-material")
    assert finding.message == "1 of 12 faces is listed before the first usemtl line"
    assert [(where.line, where.element) for where in finding.where] == [(HEAD.count(b"\n") + 1, "face 1")]


def test_a_frame_without_any(tmp_path: Path) -> None:
    assert heard(look(tmp_path, shot({5: without_material}))) == [("faces-without-material", "warning", [5.0])]


def test_a_library_that_no_frame_uses(tmp_path: Path) -> None:
    inspection = look(tmp_path, shot(dict.fromkeys(range(1, 13), without_material)))
    assert heard(inspection) == [("faces-without-material", "warning", ALL)]


def test_meshes_that_never_had_materials_are_skipped(tmp_path: Path) -> None:
    inspection = look(tmp_path, shot(dict.fromkeys(range(1, 13), lambda mesh: mesh.edit(head=(), state=()))))
    assert heard(inspection) == []
    assert "faces-without-material" in dict(inspection.verdict.skipped)
