"""Tests of `no-faces` and `unused-vertices`."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.broken.placement import with_point
from tests.helpers.meshes import plain, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, frames, heard, look, shot
from tests.helpers.surfaces import EVERY, NUMBERS, sequence


def test_points_only(tmp_path: Path) -> None:
    cloud = frames({n: plain(wing(n).positions, []) for n in NUMBERS})
    said, inspection = broken(tmp_path, "no-faces", cloud)
    assert said == [("no-faces", "note", EVERY)]
    assert finding_of(inspection, "no-faces").numbers == {"vertices": 20}


def test_one_frame_without_faces_has_lost_them(tmp_path: Path) -> None:
    said = heard(look(tmp_path, shot({5: lambda mesh: mesh.edit(faces=())})))
    assert ("face-count", "error", [5.0]) in said
    assert "no-faces" not in {check for check, _, _ in said}


def test_an_unused_vertex(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "unused-vertices", sequence(lambda n: with_point(wing(n))))
    assert said == [("unused-vertices", "note", EVERY)]
    assert finding_of(inspection, "unused-vertices").message.startswith("1 of ")
    assert finding_of(inspection, "unused-vertices").numbers == {"unused": 1}


def test_a_vertex_more_on_one_frame_is_told_of_by_its_count(tmp_path: Path) -> None:
    assert heard(look(tmp_path, shot({5: with_point}))) == [("vertex-count", "error", [5.0])]
