"""Tests of `restore-faces`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Corner, Mesh, torus
from tests.helpers.sequences import frames, shot
from tests.helpers.shuffling import shuffled

NAME = "manta.0004.obj"


def cut(mesh: Mesh, other_way: bool = False, of: tuple[int, ...] | None = None) -> Mesh:
    faces: list[tuple[Corner, ...]] = []
    for number, face in enumerate(mesh.faces):
        if of is not None and number not in of:
            faces.append(face)
            continue
        a, b, c, d = face
        faces += [(a, b, d), (b, c, d)] if other_way else [(a, b, c), (a, c, d)]
    return mesh.edit(faces=tuple(faces))


TRIANGLES = shot(dict.fromkeys(range(1, 13), cut))


def test_turned_diagonals_come_back_as_they_were(tmp_path: Path) -> None:
    files = TRIANGLES | {NAME: shot({4: lambda mesh: cut(mesh, other_way=True)})[NAME]}
    result = fixed(tmp_path, files, "restore-faces")
    assert result.after[NAME] == TRIANGLES[NAME]
    assert result.touched(NAME) == {b"f"}
    assert "changed-faces" in {finding.check for _, finding in result.delivery.proof.gone}
    assert result.delivery.proof.clean


def test_quads_cut_on_one_frame_are_whole_again(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot({4: lambda mesh: cut(mesh, of=(2, 3, 7))}), "restore-faces", frames=(4,))
    assert result.after[NAME] == shot()[NAME]


def test_a_closed_surface_with_normals_is_told_by_its_sides(tmp_path: Path) -> None:
    ring = torus(7, 5)
    meshes = {number: ring.edit(positions=ring.positions * (1 + number / 50)) for number in (1, 2, 3)}
    files = frames(meshes | {2: cut(meshes[2])})
    result = fixed(tmp_path, files, "restore-faces", frames=(2,))
    assert result.after["manta.0002.obj"] == meshes[2].text()


def test_faces_in_another_order(tmp_path: Path) -> None:
    files = shot({4: lambda mesh: mesh.edit(faces=(mesh.faces[-1], *mesh.faces[:-1]))})
    result = fixed(tmp_path, files, "restore-faces", frames=(4,))
    assert result.after["manta.0004.obj"] == shot()["manta.0004.obj"]


def seamed(mesh: Mesh) -> Mesh:
    mesh = cut(mesh, of=(2, 3))
    faces = tuple(tuple((v, vt, number) for v, vt, _ in face) for number, face in enumerate(mesh.faces))
    return mesh.edit(faces=faces, normals=np.tile([[0.0, 1.0, 0.0]], (len(faces), 1)) + np.eye(3)[0] * 0.01)


RING = {number: torus(7, 5) for number in (1, 2, 3)}


@pytest.mark.parametrize(
    ("files", "frame", "reason"),
    [
        (shot(), 4, "already has the faces of the reference frame"),
        (shot({4: lambda mesh: mesh.edit(faces=mesh.faces[1:])}), 4, "the outline differs"),
        (
            shot({4: lambda mesh: mesh.edit(positions=mesh.positions[:-1], faces=mesh.faces[:-1])}),
            4,
            "the vertex count differs",
        ),
        (
            shot({4: lambda mesh: cut(mesh).edit(state=("usemtl eye",))}),
            4,
            "the objects, groups, smoothing groups or materials of the faces differ",
        ),
        (shot({4: seamed}), 4, "the normals have seams"),
        (shot({4: lambda mesh: mesh.edit(faces=(*mesh.faces, mesh.faces[0]))}), 4, "the frame has duplicate faces"),
        (frames(RING | {2: cut(shuffled(RING[2]))}), 2, "vertices are in a different order"),
    ],
    ids=["nothing", "a hole", "counts", "materials", "hard edges", "doubled", "shuffled"],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], frame: int, reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "restore-faces", frames=(frame,))


def islands_of_their_own(mesh: Mesh) -> Mesh:
    uvs = np.array([[0.1 * (face % 9), 0.1 * corner] for face in range(len(mesh.faces)) for corner in range(4)])
    faces = tuple(
        tuple((v, 4 * number + corner, vn) for corner, (v, _, vn) in enumerate(face))
        for number, face in enumerate(mesh.faces)
    )
    return mesh.edit(uvs=uvs, faces=faces)


def test_quads_beside_each_other_that_were_cut_keep_the_seams_between_them(tmp_path: Path) -> None:
    def own(mesh: Mesh) -> Mesh:
        whole = islands_of_their_own(mesh)
        return whole.edit(uvs=whole.uvs + 0.003)

    files = shot(dict.fromkeys(range(1, 13), islands_of_their_own))
    files[NAME] = shot({4: lambda mesh: cut(own(mesh), of=(2, 3))})[NAME]
    result = fixed(tmp_path, files, "restore-faces", frames=(4,))
    assert result.after[NAME] == shot({4: own})[NAME]


def misnamed(mesh: Mesh, to: int = 19) -> Mesh:
    (v, vt, vn), *rest = mesh.faces[3]
    assert v != to
    return mesh.edit(faces=(*mesh.faces[:3], ((to, vt, vn), *rest), *mesh.faces[4:]))


@pytest.mark.parametrize("to", [19, 76], ids=["another vertex", "beyond the last"])
def test_a_wrong_index_is_mended(tmp_path: Path, to: int) -> None:
    files = shot({4: lambda mesh: misnamed(mesh, to)})
    result = fixed(tmp_path, files, "restore-faces", frames=(4,))
    assert result.after[NAME] == shot()[NAME]
    assert result.delivery.proof.new == ()


def test_two_wrong_corners_of_one_face_are_no_slip(tmp_path: Path) -> None:
    def both(mesh: Mesh) -> Mesh:
        first, second, *rest = misnamed(mesh).faces[3]
        return mesh.edit(faces=(*mesh.faces[:3], (first, (18, *second[1:]), *rest), *mesh.faces[4:]))

    with pytest.raises(Refusal, match="the outline differs"):
        plan_for(tmp_path, shot({4: both}), "restore-faces", frames=(4,))


@pytest.mark.parametrize(("wrong", "mended"), [(1, True), (2, False)])
def test_one_face_in_a_hundred_may_have_a_wrong_corner(tmp_path: Path, wrong: int, mended: bool) -> None:
    meshes = {number: torus(14, 10, large=2 + number / 50) for number in (1, 2, 3)}
    faces = list(meshes[2].faces)
    for face in range(wrong):
        first, *rest = faces[20 * face + 3]
        faces[20 * face + 3] = ((100, *first[1:]), *rest)
    files = frames(meshes | {2: meshes[2].edit(faces=tuple(faces))})
    if not mended:
        with pytest.raises(Refusal, match="the outline differs"):
            plan_for(tmp_path, files, "restore-faces", frames=(2,))
        return
    assert fixed(tmp_path, files, "restore-faces", frames=(2,)).after["manta.0002.obj"] == meshes[2].text()
