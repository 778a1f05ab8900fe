"""Tests of `uv-turn`. The expected UVs follow from the rotation of the plane about (1/2, 1/2)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh
from tests.helpers.shapes import remapped
from tests.helpers.uv_sheets import SHEET, lettering, sheets, uvs_of

LEFT = remapped(SHEET, lambda u, v: (v, 1.0 - u))
"""The sheet with its lettering turned to the left: the right side of the texture (u = 1) is at the top."""


@pytest.mark.parametrize(("turns", "degrees"), [(1, 90), (2, 180), (3, 270)])
def test_lettering_is_set_upright_without_a_number_given(tmp_path: Path, turns: int, degrees: int) -> None:
    mesh = SHEET
    for _ in range(turns):
        mesh = remapped(mesh, lambda u, v: (v, 1.0 - u))
    result = fixed(tmp_path, sheets(mesh), "uv-turn")
    assert result.step.parameters == {"degrees": degrees}
    for name in ("manta.0001.obj", "manta.0003.obj"):
        assert result.touched(name) == {b"vt"}
        assert np.array_equal(uvs_of(result.after[name]), SHEET.uvs)
    assert lettering(tmp_path / "out") == "upright"


def test_a_stated_turn_is_done_as_stated(tmp_path: Path) -> None:
    result = fixed(tmp_path, sheets(SHEET), "uv-turn", {"degrees": "90"})
    u, v = SHEET.uvs.T
    assert np.array_equal(uvs_of(result.after["manta.0002.obj"]), np.stack([1.0 - v, u], axis=1))
    assert lettering(tmp_path / "out") == "rotated 90 degrees clockwise"
    assert result.delivery.proof.clean


def test_the_third_number_of_a_uv_stays(tmp_path: Path) -> None:
    lines = LEFT.text().split(b"\n")
    data = b"\n".join(line + b" 0.%d" % at if line.startswith(b"vt") else line for at, line in enumerate(lines))
    result = fixed(tmp_path, sheets(LEFT) | {"manta.0002.obj": data}, "uv-turn")
    before, after = (read_frame(files["manta.0002.obj"]).uvs for files in (result.before, result.after))
    assert before.shape[1] == 3
    assert np.array_equal(before[:, 2], after[:, 2])


@pytest.mark.parametrize(
    ("mesh", "parameters", "reason"),
    [
        (SHEET, {}, "lettering is upright"),
        (SHEET, {"degrees": "45"}, "not one of 90, 180, 270"),
        (remapped(SHEET, lambda u, v: (1.0 - v, 1.0 - u)), {}, "reads backwards"),
        (SHEET.edit(uvs=SHEET.uvs * [1, 0]), {}, "have zero area"),
        (SHEET.edit(uvs=np.empty((0, 2)), faces=tuple(tuple((v, -1, -1) for v, _, _ in f) for f in SHEET.faces)), {},
         "the reference frame has no UVs"),
    ],
)  # fmt: skip
def test_refusals(tmp_path: Path, mesh: Mesh, parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, sheets(mesh), "uv-turn", parameters)


def test_a_surface_without_one_direction_needs_a_number(tmp_path: Path) -> None:
    quarters = [remapped(SHEET, turn) for turn in (lambda u, v: (u, v), lambda u, v: (1.0 - u, 1.0 - v))]
    count = len(SHEET.uvs)
    faces = tuple(
        tuple((v, vt + count * (number % 2), vn) for v, vt, vn in face) for number, face in enumerate(SHEET.faces)
    )
    mesh = SHEET.edit(uvs=np.concatenate([mesh.uvs for mesh in quarters]), faces=faces)
    with pytest.raises(Refusal, match="all directions"):
        plan_for(tmp_path, sheets(mesh), "uv-turn")
    assert plan_for(tmp_path / "again", sheets(mesh), "uv-turn", {"degrees": 180}).steps
