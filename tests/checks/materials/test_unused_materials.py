"""Tests of `unused-materials`."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.materials import ALL
from tests.helpers.meshes import wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, frames, heard, look, look_at_all, shot

MORE = {"manta.mtl": MATERIALS["manta.mtl"] + b"newmtl eye\nKd 0 0 0\n"}


def test_a_material_more_than_used(tmp_path: Path) -> None:
    said, _ = broken(tmp_path, "unused-materials", shot() | MORE)
    assert said == [("unused-materials", "note", ALL)]


def test_a_material_that_one_frame_uses_is_used(tmp_path: Path) -> None:
    said = heard(look(tmp_path, shot({3: lambda mesh: mesh.edit(state=("usemtl eye",))}) | MORE))
    assert said == [("materials-change", "warning", [3.0])]  # `unused-materials` is not reported


def test_a_material_that_another_sequence_uses_is_used(tmp_path: Path) -> None:
    eyes = {number: wing(number).edit(state=("usemtl eye",)) for number in range(1, 6)}
    result = look_at_all(tmp_path, shot() | MORE | frames(eyes, "eye."))
    assert [heard(one) for one in result.inspections] == [[], []]


def test_nothing_is_said_while_faces_ask_for_materials_that_are_not_there(tmp_path: Path) -> None:
    edits = {3: lambda mesh: mesh.edit(state=("usemtl pupil",))}
    inspection = look(tmp_path, shot(edits) | MORE)
    assert heard(inspection) == [("material-undefined", "warning", [3.0])]
    assert "unused-materials" in dict(inspection.verdict.skipped)
