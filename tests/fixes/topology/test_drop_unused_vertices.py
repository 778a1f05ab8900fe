"""Tests of `drop-unused-vertices`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh, with_faces
from tests.helpers.sequences import shot

ALL = range(1, 13)


def littered(mesh: Mesh) -> Mesh:
    positions = np.insert(mesh.positions, [0, 7], [[9.0, 9.0, 9.0], [0.5, 0.25, 0.0]], axis=0)
    moved = with_faces(mesh, lambda corner: (corner[0] + 1 + (corner[0] >= 7), corner[1], corner[2]))
    return moved.edit(positions=positions)


def test_loose_vertices_go_and_faces_follow(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot(dict.fromkeys(ALL, littered)), "drop-unused-vertices")
    for name, good in shot().items():
        assert result.after[name] == good
        assert not name.endswith(".obj") or result.touched(name) == {b"v", b"f"}


def test_lines_keep_their_colours_and_line_ends(tmp_path: Path) -> None:
    def coloured(data: bytes) -> bytes:
        lines = data.split(b"\n")
        return b"\r\n".join(
            line + b" 1 0.5 %.3f" % float(line.split()[2]) if line[:2] == b"v " else line for line in lines
        )

    files = {
        name: coloured(data) if name.endswith(".obj") else data
        for name, data in shot(dict.fromkeys(ALL, littered)).items()
    }
    result = fixed(tmp_path, files, "drop-unused-vertices")
    assert result.after["manta.0002.obj"] == coloured(shot()["manta.0002.obj"])


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "every vertex is used by a face"),
        (shot({4: littered}), "frame 4 differs from the reference frame in vertex count or faces"),
        (
            {
                name: data + b"l 1 2\n" * name.endswith("obj")
                for name, data in shot(dict.fromkeys(ALL, littered)).items()
            },
            "have points or lines.*can't update the vertex indices",
        ),
        (shot(dict.fromkeys(ALL, lambda mesh: mesh.edit(faces=()))), "the reference frame has no faces"),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "drop-unused-vertices")
