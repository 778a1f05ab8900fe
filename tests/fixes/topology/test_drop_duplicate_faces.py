"""Tests of `drop-duplicate-faces`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import shot

ALL = range(1, 13)


def doubled(mesh: Mesh) -> Mesh:
    again, back = mesh.faces[1][2:] + mesh.faces[1][:2], mesh.faces[5][::-1]
    return mesh.edit(faces=(*mesh.faces[:7], again, *mesh.faces[7:], back))


def test_the_first_of_each_stays(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot(dict.fromkeys(ALL, doubled)), "drop-duplicate-faces")
    for name, good in shot().items():
        assert result.after[name] == good
        assert not name.endswith(".obj") or result.touched(name) == {b"f"}
    assert not result.delivery.proof.new


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "no two faces have the same vertices"),
        (shot({4: doubled}), "frame 4 differs from the reference frame in vertex count or faces"),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "drop-duplicate-faces")
