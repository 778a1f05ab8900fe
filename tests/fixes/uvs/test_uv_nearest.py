"""Tests of `uv-nearest`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from inspector.errors import Refusal
from inspector.fixes.base.closest import TriangleTree
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.broken.uvs import bare
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Floats, Mesh, grid_faces, mapped, plain, sphere, wing
from tests.helpers.sequences import frames, shot, write


def sheet(rows: int, columns: int, bend: float = 0.0) -> Mesh:
    z, x = np.meshgrid(np.linspace(0, 1, rows), np.linspace(0, 1, columns), indexing="ij")
    positions = np.stack([x.ravel(), bend * x.ravel() * (1 - x.ravel()), z.ravel()], axis=1)
    return mapped(positions, grid_faces(rows, columns), np.stack([x.ravel(), 1 - z.ravel()], axis=1))


def tube(around: int, along: int) -> Mesh:
    """Return a tube whose UVs are u = angle / (2 pi) and v = y. The sides of the texture meet at angle 0."""
    y, a = np.meshgrid(np.linspace(0, 1, along), np.arange(around + 1) / around, indexing="ij")
    row = around + 1
    angle = 2 * np.pi * a[:, :-1].ravel()
    positions = np.stack([np.cos(angle), y[:, :-1].ravel(), np.sin(angle)], axis=1)
    faces = tuple(
        tuple((r * around + c % around, r * row + c, -1) for r, c in ((i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)))
        for i in range(along - 1)
        for j in range(around)
    )
    return Mesh(positions, faces, np.stack([a.ravel(), y.ravel()], axis=1))


def given(folder: Path, mesh: Mesh, donor: Mesh) -> tuple[Floats, Floats, str]:
    """Apply `uv-nearest` to two equal frames of a mesh, with the UVs of a donor.

    Return the positions and the UVs of the second frame's corners, and the step's summary.
    """
    path = write(folder / "rest", {"rest.obj": donor.text()}) / "rest.obj"
    work = folder / "work"
    work.mkdir()
    result = fixed(work, frames({1: bare(mesh), 2: bare(mesh)}), "uv-nearest", {"from": str(path)})
    assert result.touched("manta.0002.obj") == {b"vt", b"f"}
    assert result.delivery.proof.left == ()
    assert {finding.check for _, finding in result.delivery.proof.new} <= {"uv-outside"}
    frame = read_frame(result.after["manta.0002.obj"])
    return frame.positions[frame.corners.v], frame.uvs[frame.corners.vt], result.step.summary


def test_a_sheet_cut_otherwise_gets_the_same_uvs(tmp_path: Path) -> None:
    places, uvs, summary = given(tmp_path, sheet(5, 7), sheet(8, 6))
    assert np.abs(uvs - np.stack([places[:, 0], 1 - places[:, 2]], axis=1)).max() < 2e-6
    assert "at most 0 units away (0.00% of the diagonal); faces across a seam of the donor: 0" in summary


def test_the_largest_distance_is_told(tmp_path: Path) -> None:
    """The parabola b x (1 - x) is b / 4 high. The donor is flat, so it is b / 4 below the middle of the parabola."""
    summary = given(tmp_path, sheet(5, 7, bend=0.1), sheet(3, 3))[2]
    assert (
        f"at most {0.1 / 4:.4g} units away ({0.1 / 4 / np.linalg.norm([1, 1, 0.025]):.2%} of the diagonal)" in summary
    )


def test_faces_on_both_sides_of_a_seam_find_their_own_side(tmp_path: Path) -> None:
    """The seam, at angle 0, follows edges of both tubes."""
    places, uvs, summary = given(tmp_path, tube(12, 4), tube(24, 7))
    angle = np.arctan2(places[:, 2], places[:, 0]) / (2 * np.pi) % 1.0
    across = (uvs[:, 0] - angle + 0.5) % 1.0 - 0.5
    assert np.abs(across).max() < 1 / 48  # half a face of the donor
    assert np.ptp(uvs[:, 0].reshape(-1, 4), axis=1).max() < 1.2 / 12
    assert (uvs[:, 0].min(), uvs[:, 0].max()) == (pytest.approx(0, abs=1e-5), pytest.approx(1, abs=1e-5))
    assert np.abs(uvs[:, 1] - places[:, 1]).max() < 1e-5
    assert "; faces across a seam of the donor: 0" in summary


def test_faces_that_lie_across_a_seam_are_not_torn_and_are_told(tmp_path: Path) -> None:
    turn = np.pi / 12
    turned = tube(12, 4)
    rotation = np.array([[np.cos(turn), 0, -np.sin(turn)], [0, 1, 0], [np.sin(turn), 0, np.cos(turn)]])
    mesh = turned.edit(positions=turned.positions @ rotation)
    # Half of each of these faces is then outside the texture, which `uv-outside` reports.
    _, uvs, summary = given(tmp_path, mesh, tube(48, 7))
    assert np.ptp(uvs[:, 0].reshape(-1, 4), axis=1).max() < 1.5 / 12
    assert "; faces across a seam of the donor: 3" in summary  # one in each of the three rows


def test_the_tree_finds_what_a_library_finds() -> None:
    """Here, `trimesh.proximity.closest_point` is accurate to about a millionth of the mesh's size."""
    ball = sphere(9, 11)
    cut = [(f[0][0], f[i][0], f[i + 1][0]) for f in ball.faces for i in range(1, len(f) - 1)]
    mesh = trimesh.Trimesh(ball.positions * [1.0, 2.0, 0.3], cut, process=False)
    points = np.random.default_rng(4).normal(size=(500, 3))
    index, far = TriangleTree(np.asarray(mesh.triangles)).closest(points)
    assert np.abs(far - trimesh.proximity.closest_point(mesh, points)[1]).max() < 1e-5
    own = trimesh.triangles.closest_point(mesh.triangles[index], points)
    assert np.abs(np.linalg.norm(own - points, axis=1) - far).max() < 1e-12


def test_the_tree_of_one_triangle() -> None:
    tree = TriangleTree(np.array([[[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]]))
    index, far = tree.closest(np.array([[0.2, 0.2, 3], [-3, -4, 0], [1, 1, 0]]))
    assert index.tolist() == [0, 0, 0]
    assert far == pytest.approx([3, 5, 0.5**0.5])


BARE = shot(dict.fromkeys(range(1, 13), bare))


@pytest.mark.parametrize(
    ("files", "donor", "reason"),
    [
        (
            BARE,
            wing(1).edit(positions=wing(1).positions * 100),
            r"away from the surface of rest\.obj; the two meshes differ in pose",
        ),
        (BARE, bare(wing(1)), r"rest\.obj has no UVs"),
        (shot(), wing(1), "every frame has UVs"),
        (BARE, wing(1).edit(positions=wing(1).positions * 0), r"rest\.obj has only zero-area faces"),
        (
            BARE,
            wing(1).edit(positions=wing(1).positions * np.nan),
            r"rest\.obj has a coordinate or a UV that is not a finite number",
        ),
        (
            frames({1: plain(np.zeros((3, 3)), [(0, 1)]), 2: plain(np.zeros((3, 3)), [(0, 1)])}),
            wing(1),
            "fewer than three",
        ),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], donor: Mesh, reason: str) -> None:
    path = write(tmp_path / "rest", {"rest.obj": donor.text()}) / "rest.obj"
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path / "work", files, "uv-nearest", {"from": str(path)})


def test_without_a_donor_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="no mesh file with UVs was named"):
        plan_for(tmp_path, BARE, "uv-nearest")


def test_a_frame_with_other_faces_is_left_out_and_told(tmp_path: Path) -> None:
    files = shot(dict.fromkeys(range(1, 13), bare) | {3: lambda mesh: bare(mesh).edit(faces=bare(mesh).faces[1:])})
    path = write(tmp_path / "rest", {"rest.obj": wing(1).text()}) / "rest.obj"
    plan = plan_for(tmp_path / "work", files, "uv-nearest", {"from": str(path)})
    assert 3 not in plan.steps[0].frames
    assert [(one.frames, one.reason) for one in plan.sequences[0].refused] == [
        ((3,), "reference frame 1 has 12 faces, but frame 3 has 11")
    ]
