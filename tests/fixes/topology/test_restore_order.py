"""Tests of `restore-order`. The expected result is the mesh before its vertices were shuffled."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh, grid_faces, plain, sphere, torus
from tests.helpers.sequences import frames, shot
from tests.helpers.shuffling import shuffled

NAME = "manta.0004.obj"


def sheet(rows: int, columns: int) -> Mesh:
    y, x = np.meshgrid(np.arange(rows), np.arange(columns), indexing="ij")
    return plain(np.column_stack([x.ravel(), y.ravel(), np.sin(x.ravel() / 9.0)]), grid_faces(rows, columns))


def beside(one: Mesh, other: Mesh) -> Mesh:
    first = len(one.positions)
    faces = (*one.faces, *(tuple((v + first, vt, vn) for v, vt, vn in face) for face in other.faces))
    return one.edit(positions=np.concatenate([one.positions, other.positions]), faces=faces)


def placed(mesh: Mesh, x: float) -> Mesh:
    return mesh.edit(positions=mesh.positions + np.array([x, 0.0, 0.0]))


def swimming(mesh: Mesh, pace: float) -> dict[int, Mesh]:
    size = np.ptp(mesh.positions[:, 0])
    sway = np.sin(mesh.positions[:, :1] / size * 4.0) * [0.0, 0.0, 1.0]
    return {
        number: mesh.edit(positions=mesh.positions + number * pace * (sway + np.array([0.3, 0.0, 0.0])))
        for number in (1, 2, 3)
    }


@pytest.mark.parametrize(
    ("mesh", "pace"),
    [
        (sphere(101, 102), 0.004),
        (sheet(101, 102), 0.1),
        (beside(sphere(71, 72), placed(sphere(71, 73), 3.0)), 0.004),
        (beside(sphere(71, 72), placed(sphere(71, 72), 3.0)), 0.004),
    ],
    ids=["sphere", "sheet", "two pieces", "two equal pieces"],
)
def test_ten_thousand_shuffled_vertices_come_back_exactly_in_seconds(tmp_path: Path, mesh: Mesh, pace: float) -> None:
    assert len(mesh.positions) >= 10_000
    meshes = swimming(mesh, pace)
    files = frames(meshes | {2: shuffled(meshes[2])})
    began = time.process_time()
    result = fixed(tmp_path, files, "restore-order")
    assert result.after["manta.0002.obj"] == meshes[2].text()
    assert time.process_time() - began < 60.0  # the whole fix takes 4 to 9 s (measured); a search by pairs takes hours


def test_a_shuffled_frame_is_found_put_back_and_found_good(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot({4: shuffled}), "restore-order")
    assert result.after == shot() | {name: result.after[name] for name in result.after.keys() - shot().keys()}
    assert result.touched(NAME) == {b"v", b"f"}
    assert [finding.check for _, finding in result.delivery.proof.gone] == ["vertex-order"]
    assert result.delivery.proof.clean


def test_lines_move_whole_with_colours_comments_and_line_ends(tmp_path: Path) -> None:
    def coloured(data: bytes) -> bytes:
        lines = data.split(b"\n")
        return b"\r\n".join(
            line + b" 0.5 0.25 %.9f" % float(line.split()[1]) if line.startswith(b"v ") else line for line in lines
        )

    good = {name: coloured(data) if name.endswith(".obj") else data for name, data in shot().items()}
    broken = coloured(shot({4: shuffled})[NAME])
    result = fixed(tmp_path, good | {NAME: broken}, "restore-order", frames=(4,))
    assert result.after[NAME] == good[NAME]


def test_what_connectivity_tells_apart_may_move_as_far_as_it_likes(tmp_path: Path) -> None:
    """Without its last face, the wing has no symmetry, so connectivity alone identifies its vertices."""
    cut = {number: lambda mesh: mesh.edit(faces=mesh.faces[:-1]) for number in range(1, 13)}
    far = {4: lambda mesh: shuffled(mesh.edit(positions=mesh.positions[:, [2, 0, 1]] * 7.0, faces=mesh.faces[:-1]))}
    wanted = {4: lambda mesh: mesh.edit(positions=mesh.positions[:, [2, 0, 1]] * 7.0, faces=mesh.faces[:-1])}
    result = fixed(tmp_path, shot(cut | far), "restore-order")
    assert result.after[NAME] == shot(cut | wanted)[NAME]


def spinning(steps: float) -> dict[int, Mesh]:
    """Return frames of a sphere with 8 meridians that turns by `steps` meridians per frame."""
    ball = sphere(6, 8)

    def turned(angle: float) -> Mesh:
        cos, sin = np.cos(angle), np.sin(angle)
        return ball.edit(positions=ball.positions @ np.array([[cos, sin, 0.0], [-sin, cos, 0.0], [0.0, 0.0, 1.0]]))

    return {number: turned(number * steps * 2 * np.pi / 8) for number in (1, 2, 3, 4)}


def test_a_slow_turn_of_a_symmetric_mesh_is_told(tmp_path: Path) -> None:
    meshes = spinning(0.3)
    result = fixed(tmp_path, frames(meshes | {3: shuffled(meshes[3])}), "restore-order")
    assert result.after["manta.0003.obj"] == meshes[3].text()


TWINS = {number: beside(torus(5, 4), torus(5, 4)) for number in (1, 2, 3)}


def cut_open(mesh: Mesh) -> Mesh:
    return mesh.edit(faces=(mesh.faces[0][:2] + mesh.faces[0][3:], *mesh.faces[1:]))


@pytest.mark.parametrize(
    ("files", "frame", "reason"),
    [
        (shot(), None, "already has the faces of the reference frame"),
        (frames(TWINS | {2: shuffled(TWINS[2])}), 2, "several orders fit equally well; 40 of 40 vertices"),
        (frames(spinning(0.6) | {3: shuffled(spinning(0.6)[3])}), 3, "several orders fit equally well; 40 of 42"),
        (
            shot({4: lambda mesh: shuffled(cut_open(mesh))}),
            4,
            "don't connect the vertices in the same way as in the reference",
        ),
        (
            shot({4: lambda mesh: shuffled(mesh.edit(faces=mesh.faces[1:]))}),
            4,
            "the number of vertices or faces differs",
        ),
        (
            shot({4: lambda mesh: shuffled(mesh.edit(state=("usemtl eye",)))}),
            4,
            "the objects, groups, smoothing groups or materials of the faces differ",
        ),
    ],
    ids=["nothing", "coincident", "half a spacing", "other faces", "counts", "materials"],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], frame: int | None, reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "restore-order", frames=None if frame is None else (frame,))
