"""Tests of `flip-winding`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import shot

NAME = "manta.0004.obj"


def backwards(mesh: Mesh, of: range = range(12), start: int = 0) -> Mesh:
    faces = tuple(
        (face[start:] + face[:start])[::-1] if number in of else face for number, face in enumerate(mesh.faces)
    )
    return mesh.edit(faces=faces)


@pytest.mark.parametrize(("of", "start"), [(range(12), 0), (range(3, 5), 2)])
def test_turned_faces_run_as_before_with_their_uvs(tmp_path: Path, of: range, start: int) -> None:
    result = fixed(tmp_path, shot({4: lambda mesh: backwards(mesh, of, start)}), "flip-winding")
    assert result.after[NAME] == shot()[NAME]
    assert result.touched(NAME) == {b"f"}
    assert result.delivery.proof.clean


@pytest.mark.parametrize(
    ("files", "frames", "reason"),
    [
        (shot(), None, "no frame has faces that are reversed"),
        (
            shot({4: lambda mesh: mesh.edit(faces=(mesh.faces[1], mesh.faces[0], *mesh.faces[2:]))}),
            (4,),
            "the faces of frame 4 differ",
        ),
        (shot({4: lambda mesh: mesh.edit(faces=mesh.faces[1:])}), (4,), "the faces of frame 4 differ"),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], frames: tuple[int, ...] | None, reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "flip-winding", frames=frames)
