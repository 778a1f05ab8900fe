"""Tests of `boundary-edges`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.broken.topology import torn
from tests.helpers.meshes import Mesh, sphere
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, frames, heard, look, shot
from tests.helpers.surfaces import ring, sequence, with_corners


def unwelded(mesh: Mesh) -> Mesh:
    """Split vertex 3 at the rim, so that its two faces no longer share it."""
    positions = np.concatenate([mesh.positions, mesh.positions[[2]]])
    return with_corners(mesh.edit(positions=positions), [(2, 0, 20)])


def folded(mesh: Mesh) -> Mesh:
    """Attach a third face to the edge shared by faces 1 and 2."""
    return with_corners(mesh, [(11, 0, 1), (11, 1, 6)])


def test_a_corner_elsewhere(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "boundary-edges", shot({5: torn}))
    assert said == [("boundary-edges", "error", [5.0])]
    (where,) = finding_of(inspection, "boundary-edges").where
    assert where.element == "face 7"
    assert shot({5: torn})["manta.0005.obj"].split(b"\n")[(where.line or 0) - 1] == b"f 8/16 1/17 14/20 13/19"
    # By hand: a sheet of 3 x 4 quads has 2 * (3 + 4) = 14 boundary edges. The torn corner adds four.
    assert finding_of(inspection, "boundary-edges").numbers == {
        "boundary": 18,
        "non_manifold": 0,
        "reference_boundary": 14,
        "reference_non_manifold": 0,
    }


def test_an_edge_of_three_faces(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "boundary-edges", shot({5: folded}))
    assert said == [("boundary-edges", "error", [5.0])]
    assert finding_of(inspection, "boundary-edges").numbers["non_manifold"] == 1


def test_a_seam_that_came_apart(tmp_path: Path) -> None:
    """Splitting a seam adds vertices, so `vertex-count` reports the frame."""
    inspection = look(tmp_path, shot({5: unwelded}))
    assert heard(inspection) == [("vertex-count", "error", [5.0])]
    assert "16 boundary edges (reference frame: 14)" in finding_of(inspection, "vertex-count").message


def test_a_lost_face_is_told_of_once(tmp_path: Path) -> None:
    said = heard(look(tmp_path, shot({5: lambda mesh: mesh.edit(faces=(*mesh.faces[:6], *mesh.faces[7:]))})))
    assert said == [("face-count", "error", [5.0])]


def with_slit(mesh: Mesh) -> Mesh:
    """Separate the first face from its neighbours along two edges, which become four boundary edges."""
    positions = np.concatenate([mesh.positions, mesh.positions[[mesh.faces[0][0][0]]]])
    return with_corners(mesh.edit(positions=positions), [(0, 0, len(mesh.positions))])


@pytest.mark.parametrize("frames_with_slits", [(), (5,), (5, 14), (5, 14, 18)])
@pytest.mark.parametrize(
    "sizes",
    [((3, 16), (4, 12), (6, 8), (8, 6), (12, 4)), ((5, 6), (6, 7), (7, 8), (8, 9), (9, 10))],
    ids=["48 faces each", "other numbers of faces"],
)
def test_how_many_frames_of_a_mesh_that_changes_throughout(
    sizes: tuple[tuple[int, int], ...], frames_with_slits: tuple[int, ...], tmp_path: Path
) -> None:
    balls = {number: sphere(*sizes[number % 5]) for number in range(1, 21)}
    balls |= {number: with_slit(balls[number]) for number in frames_with_slits}
    inspection = look(tmp_path, frames(balls))
    few = 0 < len(frames_with_slits) <= 2
    found = [said for said in heard(inspection) if said[0] == "boundary-edges"]
    assert found == [("boundary-edges", "error", [float(number) for number in frames_with_slits])] * few
    if few:
        assert finding_of(inspection, "boundary-edges").numbers == {"boundary": 4, "non_manifold": 0}
    reason = dict(inspection.verdict.skipped).get("boundary-edges", "")
    assert ("isn't closed on 3 of 20 frames" in reason) is (len(frames_with_slits) == 3)


def test_sheets_and_closed_shapes_are_healthy(tmp_path: Path) -> None:
    assert heard(look(tmp_path, sequence(ring))) == []
