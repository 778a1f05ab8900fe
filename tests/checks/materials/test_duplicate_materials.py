"""Tests of `duplicate-materials`."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.materials import ALL
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, heard, look, shot

GOOD = MATERIALS["manta.mtl"]


def test_two_definitions_that_differ(tmp_path: Path) -> None:
    files = shot() | {"manta.mtl": GOOD + b"newmtl skin\nKd 1 0 0\n"}
    said, inspection = broken(tmp_path, "duplicate-materials", files)
    assert said == [("duplicate-materials", "warning", ALL)]
    assert [where.line for where in finding_of(inspection, "duplicate-materials").where] == [4]


def test_two_definitions_that_agree_are_a_note(tmp_path: Path) -> None:
    said, _ = broken(tmp_path, "duplicate-materials", shot() | {"manta.mtl": GOOD + GOOD})
    assert said == [("duplicate-materials", "note", ALL)]


def test_two_empty_definitions(tmp_path: Path) -> None:
    files = {name: data for name, data in shot().items() if name != "skin.png"}
    assert heard(look(tmp_path, files | {"manta.mtl": b"newmtl skin\nnewmtl skin\n"})) == [
        ("duplicate-materials", "note", ALL)
    ]


def test_one_name_in_two_libraries_of_a_frame(tmp_path: Path) -> None:
    edits = {5: lambda mesh: mesh.edit(head=("mtllib manta.mtl", "mtllib wet.mtl", "o manta"))}
    files = shot(edits) | {"wet.mtl": b"newmtl skin\nKd 0 0 1\n"}
    said, _ = broken(tmp_path, "duplicate-materials", files)
    assert said == [("duplicate-materials", "warning", [5.0])]


def test_one_library_named_twice_defines_nothing_twice(tmp_path: Path) -> None:
    edits = {5: lambda mesh: mesh.edit(head=("mtllib manta.mtl", "mtllib manta.mtl", "o manta"))}
    assert heard(look(tmp_path, shot(edits))) == []
