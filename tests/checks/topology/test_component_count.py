"""Tests of `component-count`."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.broken.topology import grown_on, with_fin
from tests.helpers.meshes import Mesh, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look
from tests.helpers.surfaces import sequence


def without_fin(mesh: Mesh) -> Mesh:
    return mesh.edit(faces=mesh.faces[:-1])


def test_a_piece_joins(tmp_path: Path) -> None:
    assert heard(look(tmp_path / "two", sequence(with_fin))) == []
    said, inspection = broken(tmp_path, "component-count", sequence(with_fin, {5: grown_on}))
    assert said == [("component-count", "error", [5.0])]
    assert finding_of(inspection, "component-count").message == "1 connected component; the reference frame has 2"
    assert finding_of(inspection, "component-count").numbers == {"reference": 2, "least": 1, "most": 1}


def test_a_piece_vanishes(tmp_path: Path) -> None:
    """The faces of the component vanish too, so `face-count` reports the frame."""
    inspection = look(tmp_path, sequence(with_fin, {5: without_fin, 6: without_fin}))
    assert heard(inspection) == [("face-count", "error", [5.0, 6.0])]
    assert "; also 1 connected component (reference frame: 2)" in finding_of(inspection, "face-count").message


def test_a_piece_appears(tmp_path: Path) -> None:
    said = heard(look(tmp_path, sequence(wing, {5: lambda _: with_fin(5)})))
    assert said == [("vertex-count", "error", [5.0])]


def test_a_lost_face_of_a_piece_that_stays_is_not_a_piece(tmp_path: Path) -> None:
    said = heard(look(tmp_path, sequence(wing, {5: without_fin})))
    assert said == [("face-count", "error", [5.0])]
