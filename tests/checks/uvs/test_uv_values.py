"""Tests of `uv-values`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector import limits
from tests.helpers.broken.uvs import slid
from tests.helpers.meshes import Mesh, torus
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, frames, heard, look, shot


def test_an_island_slid(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "uv-values", shot({5: slid(0.02)}))
    assert said == [("uv-values", "warning", [5.0])]
    assert finding_of(inspection, "uv-values").numbers["largest"] == pytest.approx(0.02, abs=1e-6)


@pytest.mark.parametrize(("way", "found"), [(0.9e-4, False), (1.1e-4, True)])
def test_from_which_difference_on_uvs_are_others(way: float, found: bool, tmp_path: Path) -> None:
    """The limit is a ten-thousandth of the texture's width (UV_DIFFERENCE), nearly half a pixel of a map 4096 pixels
    wide."""
    assert heard(look(tmp_path, shot({5: slid(way)}))) == [("uv-values", "warning", [5.0])] * found


def test_rounding_is_no_slide(tmp_path: Path) -> None:
    """Rounding to four decimal places changes UVs by at most 0.00005."""
    assert limits.UV_DIFFERENCE.value > 0.5e-4

    def rounded(mesh: Mesh) -> Mesh:
        return mesh.edit(uvs=np.round(mesh.uvs, 4))

    assert heard(look(tmp_path, shot({5: rounded}))) == []


def test_uvs_rounded_to_three_decimals_are_called_so(tmp_path: Path) -> None:
    def three(mesh: Mesh) -> bytes:
        return mesh.text(3)

    def ring(number: int) -> Mesh:
        mesh = torus(16, 8)
        return mesh.edit(positions=mesh.positions + np.array([0.1 * number, 0.0, 0.0]))

    finding = finding_of(look(tmp_path / "wing", shot({5: three})), "uv-values")
    assert finding.message.startswith(
        "UV coordinates are rounded to 3 decimal places and differ from the reference frame's by up to"
    )
    assert 0.0003 < float(finding.numbers["largest"] or 0) <= 0.0005 + 1e-9
    moved = shot({5: lambda mesh: mesh.edit(uvs=mesh.uvs + 0.0006).text(3)})
    assert "rounded" not in finding_of(look(tmp_path / "moved", moved), "uv-values").message
    texts: dict[int, Mesh | bytes] = {number: ring(number) for number in range(1, 9)}
    said = heard(look(tmp_path / "ring", frames({**texts, 5: three(ring(5))})))
    assert [one for one in said if one[1] != "note"] == [("few-decimals", "warning", [5.0])]
