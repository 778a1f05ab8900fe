"""Tests of `triangulate`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh, mapped, prism
from tests.helpers.sequences import frames, shot


def test_every_frame_is_cut_alike_and_keeps_its_corners(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot(), "triangulate")
    frames_after = [read_frame(data) for name, data in result.after.items() if name.endswith(".obj")]
    assert {frame.faces for frame in frames_after} == {24}
    assert all(np.array_equal(frame.corners.v, frames_after[0].corners.v) for frame in frames_after)
    before = read_frame(result.before["manta.0001.obj"])
    pairs = set(zip(before.corners.v.tolist(), before.corners.vt.tolist(), strict=True))
    assert set(zip(frames_after[0].corners.v.tolist(), frames_after[0].corners.vt.tolist(), strict=True)) == pairs
    assert result.touched("manta.0003.obj") == {b"f"}
    assert not result.delivery.proof.new


def star(points: int) -> Mesh:
    """Return a star with `points` corners that point outwards, and a triangle that fills its first notch."""
    angle = np.pi * np.arange(2 * points) / points
    radius = np.where(np.arange(2 * points) % 2, 0.3, 1.0)
    ring = np.column_stack([radius * np.cos(angle), radius * np.sin(angle), np.zeros(2 * points)])
    return mapped(ring, [tuple(range(2 * points)), (1, 0, 2)], ring[:, :2] / 2 + 0.5)


def test_a_face_that_bends_in_keeps_its_area(tmp_path: Path) -> None:
    mesh = star(7)
    x, y = mesh.positions[:, 0], mesh.positions[:, 1]
    shoelace = float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2
    notch = (
        float(np.linalg.norm(np.cross(mesh.positions[0] - mesh.positions[1], mesh.positions[2] - mesh.positions[1])))
        / 2
    )
    area = shoelace + notch
    result = fixed(tmp_path, frames({1: mesh, 2: mesh.edit(positions=mesh.positions * 2)}), "triangulate")
    first, second = (read_frame(result.after[f"manta.000{number}.obj"]) for number in (1, 2))
    # trimesh adds up the areas of all triangles, so a triangle outside the star would increase the sum.
    areas = [
        trimesh.Trimesh(one.positions, one.corners.v.reshape(-1, 3), process=False).area for one in (first, second)
    ]
    assert areas == pytest.approx([area, 4 * area], rel=1e-5)


def test_a_closed_surface_stays_closed_and_outward(tmp_path: Path) -> None:
    mesh = prism(9)
    result = fixed(tmp_path, frames({1: mesh, 2: mesh}), "triangulate")
    after = read_frame(result.after["manta.0002.obj"])
    solid = trimesh.Trimesh(after.positions, after.corners.v.reshape(-1, 3), process=False)
    assert solid.is_watertight
    assert solid.is_winding_consistent
    # The volume is the area of a regular polygon with 9 sides in the unit circle, times the height, 1.
    assert solid.volume == pytest.approx(9 / 2 * np.sin(2 * np.pi / 9), rel=1e-5)


BOW = mapped(np.array([[0, 0, 0], [2, 0, 0], [0, 1, 0], [1, 1, 0.0]]), [(0, 1, 2, 3)], np.zeros((4, 2)))


def all_triangles(mesh: Mesh) -> Mesh:
    return mesh.edit(faces=tuple(face[:3] for face in mesh.faces))


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(dict.fromkeys(range(1, 13), all_triangles)), "already a triangle"),
        (
            shot({4: lambda mesh: mesh.edit(faces=mesh.faces[1:])}),
            "frame 4 differs from the reference frame in vertex count or faces",
        ),
        (frames({1: BOW, 2: BOW}), r"face [0-9]+ can't be cut, because it is self-intersecting"),
        (frames({1: star(150), 2: star(150)}), "more than 256 corners"),
        (
            shot(dict.fromkeys(range(1, 13), lambda mesh: mesh.edit(faces=(mesh.faces[0][:2], *mesh.faces[1:])))),
            "fewer than three",
        ),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "triangulate")
