"""Tests of `drop-degenerate-faces`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import shot

ALL = range(1, 13)


def faulty(mesh: Mesh) -> Mesh:
    a, b, c, d = mesh.faces[0]
    bad = ((a, b, b, c, d), (a, b), (a, b, a, c), (a, a, a))
    return mesh.edit(faces=(*bad[:2], *mesh.faces[1:4], *bad[2:], *mesh.faces[4:]))


def test_what_has_no_surface_goes_and_every_other_face_stays(tmp_path: Path) -> None:
    files = shot(dict.fromkeys(ALL, faulty))
    result = fixed(tmp_path, files, "drop-degenerate-faces")
    for name, good in shot().items():
        assert result.after[name] == good
        if name.endswith(".obj"):
            assert result.touched(name) == {b"f"}
    assert {finding.check for _, finding in result.delivery.proof.gone} >= {"degenerate-faces", "repeated-corners"}
    assert result.delivery.proof.clean


def test_comments_behind_other_statements_stay(tmp_path: Path) -> None:
    files = {
        name: data.replace(b"usemtl skin", b"g wings  # both")
        for name, data in shot(dict.fromkeys(ALL, faulty)).items()
    }
    assert b"\ng wings  # both\n" in fixed(tmp_path, files, "drop-degenerate-faces").after["manta.0002.obj"]


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "no face is degenerate, and no corner repeats"),
        (shot({4: faulty}), "frame 4 differs from the reference frame in vertex count or faces"),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "drop-degenerate-faces")
