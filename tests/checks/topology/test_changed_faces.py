"""Tests of `changed-faces`. In some sequences from public data, most frames triangulate a few faces differently from
the reference frame."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.broken.topology import diagonal_turned
from tests.helpers.meshes import Mesh, sphere
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, frames, heard, look, shot


def triangle_and_pentagon(mesh: Mesh) -> Mesh:
    """Turn two quads into a triangle and a pentagon, which together have as many corners as the quads."""
    one, two = mesh.faces[:2]
    return mesh.edit(faces=(one[:3], (*two, one[3]), *mesh.faces[2:]))


def test_one_face(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "changed-faces", shot({5: diagonal_turned}))
    assert said == [("changed-faces", "error", [5.0])]
    finding = finding_of(inspection, "changed-faces")
    assert finding.numbers == {"faces": 1, "least": 1, "variants": 1}
    (where,) = finding.where
    text = shot({5: diagonal_turned})["manta.0005.obj"].split(b"\n")
    assert text[(where.line or 0) - 1].startswith(b"f 9/")
    assert where.element == "face 7"


def test_faces_of_other_sizes(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "changed-faces", shot({5: triangle_and_pentagon}))
    assert said == [("changed-faces", "error", [5.0])]
    assert finding_of(inspection, "changed-faces").numbers["faces"] == 2


def test_most_frames(tmp_path: Path) -> None:
    files = shot(dict.fromkeys([1, 4, 7, 9], diagonal_turned))
    assert heard(look(tmp_path, files)) == [("changed-faces", "error", [1.0, 4.0, 7.0, 9.0])]


def test_a_mesh_of_48_faces_that_changes_throughout(tmp_path: Path) -> None:
    sizes = ((3, 16), (4, 12), (6, 8), (8, 6), (12, 4))
    balls = {number: sphere(*sizes[number % 5]) for number in range(1, 13)}
    for number in range(6, 13):
        balls[number] = balls[number].edit(faces=tuple((*face[1:], face[0]) for face in balls[number].faces))
    assert [said for said in heard(look(tmp_path, frames(balls))) if said[1] != "note"] == []
