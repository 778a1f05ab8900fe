"""Frames that were cut into faces anew get the reference's faces back."""

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
    """Quads cut into two triangles along one diagonal or the other."""
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
    """The frame as it was before its last face came first."""
    files = shot({4: lambda mesh: mesh.edit(faces=(mesh.faces[-1], *mesh.faces[:-1]))})
    result = fixed(tmp_path, files, "restore-faces", frames=(4,))
    assert result.after["manta.0004.obj"] == shot()["manta.0004.obj"]


def seamed(mesh: Mesh) -> Mesh:
    """Every corner of a face has a normal of its own, as hard edges give."""
    faces = tuple(tuple((v, vt, number) for v, vt, _ in face) for number, face in enumerate(mesh.faces))
    return cut(
        mesh.edit(faces=faces, normals=np.tile([[0.0, 1.0, 0.0]], (len(faces), 1)) + np.eye(3)[0] * 0.01), of=(2, 3)
    )


RING = {number: torus(7, 5) for number in (1, 2, 3)}


@pytest.mark.parametrize(
    ("files", "frame", "reason"),
    [
        (shot(), 4, "has the reference's faces already"),
        (shot({4: lambda mesh: mesh.edit(faces=mesh.faces[1:])}), 4, "fill another outline"),
        (shot({4: lambda mesh: mesh.edit(positions=mesh.positions[:-1], faces=mesh.faces[:-1])}), 4, "19 vertices"),
        (shot({4: lambda mesh: cut(mesh).edit(state=("usemtl eye",))}), 4, "other groups or materials"),
        (shot({4: seamed}), 4, "normals have seams at 2 vertices"),
        (shot({4: lambda mesh: mesh.edit(faces=(*mesh.faces, mesh.faces[0]))}), 4, "frame 4 has faces twice"),
        (frames(RING | {2: cut(shuffled(RING[2]))}), 2, "vertices have another order"),
    ],
    ids=["nothing", "a hole", "counts", "materials", "hard edges", "doubled", "shuffled"],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], frame: int, reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "restore-faces", frames=(frame,))
