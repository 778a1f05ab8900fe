"""Tests of `uv-mirror`. The expected UVs follow from the reflection of the plane about u = 1/2 or v = 1/2."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.shapes import remapped
from tests.helpers.uv_sheets import SHEET, lettering, second_sheet, sheets, uvs_of

MIRRORED = remapped(SHEET, lambda u, v: (1.0 - u, v))


def test_mirrored_lettering_reads_again(tmp_path: Path) -> None:
    result = fixed(tmp_path, sheets(MIRRORED), "uv-mirror")
    assert lettering(tmp_path / "in") == "mirrored"
    assert lettering(tmp_path / "out") == "upright"
    assert result.step.parameters == {"axis": "u"}
    for name in ("manta.0001.obj", "manta.0003.obj"):
        assert result.touched(name) == {b"vt"}
        assert np.array_equal(uvs_of(result.after[name]), SHEET.uvs)
    assert result.delivery.proof.clean


def test_a_stated_axis_is_done_as_stated(tmp_path: Path) -> None:
    result = fixed(tmp_path, sheets(SHEET), "uv-mirror", {"axis": "v"})
    assert np.array_equal(uvs_of(result.after["manta.0002.obj"]), SHEET.uvs * [1, -1] + [0, 1])
    assert lettering(tmp_path / "out") == "mirrored, upside down"


@pytest.mark.parametrize(
    ("parameters", "reason"), [({}, r"does not read backwards \(only 0% of"), ({"axis": "x"}, "not one of u, v")]
)
def test_refusals(tmp_path: Path, parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, sheets(SHEET), "uv-mirror", parameters)


def test_a_symmetrical_surface_is_not_mirrored_by_guess(tmp_path: Path) -> None:
    half = remapped(SHEET, lambda u, v: (np.abs(2.0 * u - 1.0), v))
    with pytest.raises(Refusal, match="50% of the surface is mirrored"):
        plan_for(tmp_path, sheets(half), "uv-mirror")


def test_the_material_that_reads_the_right_way_is_named(tmp_path: Path) -> None:
    both = MIRRORED.text() + second_sheet(SHEET, "fin", [0, 20, 0])[len(SHEET.text()) :]
    with pytest.raises(Refusal, match="only 0% of the surface with the material `fin` is mirrored"):
        plan_for(tmp_path, {"manta.0001.obj": both, "manta.0002.obj": both}, "uv-mirror")


def test_without_uvs_there_is_nothing_to_mirror(tmp_path: Path) -> None:
    bare = SHEET.edit(uvs=np.empty((0, 2)), faces=tuple(tuple((v, -1, -1) for v, _, _ in f) for f in SHEET.faces))
    with pytest.raises(Refusal, match="the reference frame has no UVs"):
        plan_for(tmp_path, sheets(bare), "uv-mirror", {"axis": "u"})
