"""Tests of `recompute-normals`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from inspector.errors import Refusal
from inspector.formats.frame import Frame
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh, plain, sphere
from tests.helpers.sequences import frames, shot

BOX = plain(
    np.array([[x, y, z] for x in (0.0, 1.0) for y in (0.0, 2.0) for z in (0.0, 3.0)]),
    [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)],
)


def recomputed(folder: Path, mesh: Mesh | bytes, **parameters: object) -> Frame:
    data = mesh if isinstance(mesh, bytes) else mesh.text()
    result = fixed(folder, frames({1: data, 2: data}), "recompute-normals", parameters)
    assert result.touched("manta.0002.obj") == {b"vn", b"f"}
    return read_frame(result.after["manta.0002.obj"])


def test_by_angle_they_are_trimeshs(tmp_path: Path) -> None:
    mesh = sphere(7, 9)
    cut = plain(
        mesh.positions * [1.0, 2.0, 0.5],
        [(f[0][0], f[i][0], f[i + 1][0]) for f in mesh.faces for i in range(1, len(f) - 1)],
    )
    after = recomputed(tmp_path, cut)
    solid = trimesh.Trimesh(after.positions, after.corners.v.reshape(-1, 3), process=False)
    # trimesh also weights vertex normals by angle (documented at Trimesh.vertex_normals).
    assert np.abs(after.normals[after.corners.vn] - solid.vertex_normals[after.corners.v]).max() < 1e-5


@pytest.mark.parametrize(
    ("weight", "expected"),
    [
        ("angle", np.ones(3) / np.sqrt(3)),  # three right angles
        ("area", np.array([6.0, 3.0, 2.0]) / 7.0),  # faces of 2 x 3, 1 x 3 and 1 x 2 units; 36 + 9 + 4 = 49
    ],
)
def test_a_box_by_hand(tmp_path: Path, weight: str, expected: np.ndarray[tuple[int], np.dtype[np.float64]]) -> None:
    after = recomputed(tmp_path, BOX, weight=weight)
    assert len(after.normals) == 8
    far = after.normals[after.corners.vn[after.corners.v == 7]]
    assert np.allclose(far, expected, rtol=0, atol=1e-6)


@pytest.mark.parametrize(("hard", "count"), [("89", 24), ("91", 8)])
def test_edges_of_a_box_are_hard_below_their_right_angle(tmp_path: Path, hard: str, count: int) -> None:
    assert len(recomputed(tmp_path, BOX, hard=hard).normals) == count


def test_smoothing_groups_part_the_normals(tmp_path: Path) -> None:
    """In a smoothing group, corners at the same vertex share a normal (format document, `s`). Two walls are in group 1,
    so they share two normals at their common edge. No other corners share normals."""
    lines = BOX.text().splitlines(keepends=True)
    faces = [line for line in lines if line.startswith(b"f")]
    text = b"".join([*(line for line in lines if line.startswith(b"v")), b"s 1\n", faces[0], faces[2], b"s off\n"])
    after = recomputed(tmp_path, text + faces[1] + b"".join(faces[3:]), hard="groups")
    assert len(after.normals) == 24 - 2


def test_every_frame_has_the_same_indices(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot(), "recompute-normals")
    after = [read_frame(data) for name, data in result.after.items() if name.endswith("obj")]
    assert all(np.array_equal(one.corners.vn, after[0].corners.vn) for one in after)
    assert not np.allclose(after[0].normals, after[5].normals, atol=1e-3)
    assert not result.delivery.proof.new


@pytest.mark.parametrize(
    ("files", "parameters", "reason"),
    [
        (shot(), {"hard": "200"}, "from 0 to 180 degrees, or `groups`"),
        (shot(), {"weight": "taste"}, "not one of angle, area"),
        (
            shot({4: lambda mesh: mesh.edit(faces=mesh.faces[1:])}),
            {},
            "frame 4 differs from the reference frame in vertex count or faces",
        ),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "recompute-normals", parameters)
