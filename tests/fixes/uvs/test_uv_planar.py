"""Tests of `uv-planar`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.broken.uvs import bare
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Floats, Mesh, plain, prism, wing
from tests.helpers.sequences import frames, shot
from tests.helpers.uv_sheets import SHEET, lettering, sheets
from tests.helpers.uvs import unpainted

# Rotations of the wall, which is parallel to x and y and faces +z, by the direction that it faces afterwards.
LOOKS = {
    "+z": [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
    "-z": [[-1, 0, 0], [0, 1, 0], [0, 0, -1]],
    "+x": [[0, 0, 1], [0, 1, 0], [-1, 0, 0]],
    "-x": [[0, 0, -1], [0, 1, 0], [1, 0, 0]],
    "+y": [[1, 0, 0], [0, 0, 1], [0, -1, 0]],
    "-y": [[1, 0, 0], [0, 0, -1], [0, 1, 0]],
}


def turned(mesh: Mesh, rotation: Floats) -> Mesh:
    assert np.linalg.det(rotation) == pytest.approx(1.0)
    return mesh.edit(positions=mesh.positions @ rotation.T)


def test_own_proportions_on_a_texture_that_is_not_square(tmp_path: Path) -> None:
    result = fixed(tmp_path, sheets(bare(SHEET)), "uv-planar")
    assert np.ptp(read_frame(result.after["manta.0001.obj"]).uvs, axis=0) == pytest.approx([16 / 28.8, 1.0], abs=1e-6)


@pytest.mark.parametrize("side", LOOKS)
def test_lettering_is_upright_from_whatever_side_the_sheet_is_seen(tmp_path: Path, side: str) -> None:
    sheet = bare(turned(SHEET, np.array(LOOKS[side], float)))
    result = fixed(tmp_path, sheets(sheet), "uv-planar")
    assert lettering(tmp_path / "out") == "upright"
    assert result.step.parameters == {"axis": side[1], "fit": "own"}
    assert f"from frame 1 along {'-' if side[0] == '+' else '+'}{side[1]}" in result.step.summary
    for name in result.changed():
        assert result.touched(name) == {b"vt", b"f"}


def test_own_proportions_and_the_middle_of_the_square(tmp_path: Path) -> None:
    result = fixed(tmp_path, unpainted(sheets(bare(SHEET))), "uv-planar")
    uvs = read_frame(result.after["manta.0001.obj"]).uvs
    assert uvs.min(axis=0) == pytest.approx([0.0, 0.5 - 9 / 32], abs=1e-6)
    assert uvs.max(axis=0) == pytest.approx([1.0, 0.5 + 9 / 32], abs=1e-6)
    assert result.delivery.proof.clean


def test_filling_the_square(tmp_path: Path) -> None:
    result = fixed(tmp_path, sheets(bare(SHEET)), "uv-planar", {"fit": "fill"})
    uvs = read_frame(result.after["manta.0001.obj"]).uvs
    assert (uvs.min(axis=0).tolist(), uvs.max(axis=0).tolist()) == ([0.0, 0.0], [1.0, 1.0])


def test_every_frame_gets_the_reference_s_uvs_so_that_the_texture_sticks(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot(dict.fromkeys(range(1, 13), bare)), "uv-planar")
    found = {read_frame(result.after[name]).uvs.tobytes() for name in result.changed()}
    assert len(result.changed()) == 12
    assert len(found) == 1
    assert "no-uvs" in {finding.check for _, finding in result.delivery.proof.gone}
    assert result.delivery.proof.clean


def test_what_is_lost_is_told(tmp_path: Path) -> None:
    cube = bare(prism(4))
    step = plan_for(tmp_path, frames({1: cube, 2: cube}), "uv-planar", {"axis": "z"}).steps[0]
    assert step.parameters["axis"] == "z"
    areas = np.array([2.0, 2.0, *[2**0.5] * 4])  # two squares with a diagonal of 2; four walls, 2 ** 0.5 x 1
    away, steep = areas[0] / areas.sum(), areas[2:].sum() / areas.sum()
    assert (
        f"{away:.0%} of the surface is seen from the back (lettering reads backwards there), and {steep:.0%} is "
        "stretched" in step.summary
    )


LINE = plain(np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]]), [(0, 1, 2)])


@pytest.mark.parametrize(
    ("files", "parameters", "reason"),
    [
        (frames({1: LINE, 2: LINE}), {}, "the reference frame is a line"),
        (frames({1: bare(prism(4)), 2: bare(prism(4))}), {}, "41% of the surface is edge-on"),  # 4 / (4 + 4 * 2 ** 0.5)
        (shot(), {"axis": "w"}, "axis=w is not one of x, y, z"),
        (shot(), {"fit": "snug"}, "fit=snug is not one of own, fill"),
        (shot({4: lambda mesh: mesh.edit(faces=mesh.faces[1:])}), {}, "frame 4 has 11"),
        (frames({1: wing(1).edit(faces=()), 2: wing(1).edit(faces=())}), {}, "no faces"),
        (frames({1: b"", 2: b""}), {}, "no frame can be read"),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "uv-planar", parameters)


def test_chosen_frames_without_vertices_are_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="the chosen frames have no vertices"):
        plan_for(tmp_path, shot() | {"manta.0004.obj": b"o manta\n"}, "uv-planar", frames=(4,))
