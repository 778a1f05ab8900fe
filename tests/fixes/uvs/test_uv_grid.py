"""Tests of `uv-grid`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.broken.uvs import bare
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.images import image_file
from tests.helpers.meshes import Mesh, prism
from tests.helpers.sequences import Files, frames
from tests.helpers.shapes import sheet_mesh, wall

COLUMNS, ROWS = 6, 4
SHEET = sheet_mesh(wall(12, 6), COLUMNS, ROWS)


def shuffled(mesh: Mesh, seed: int = 3) -> Mesh:
    random = np.random.default_rng(seed)
    order = random.permutation(len(mesh.positions))
    number = np.argsort(order)
    faces = [tuple((int(number[v]), *rest) for v, *rest in face) for face in mesh.faces]
    turned = [face[turn:] + face[:turn] for face, turn in zip(faces, random.integers(0, 4, len(faces)), strict=True)]
    chosen = random.permutation(len(faces))
    return mesh.edit(positions=mesh.positions[order], faces=tuple(turned[at] for at in chosen))


def files(mesh: Mesh, size: tuple[int, int] | None = None) -> Files:
    made = frames(
        {1: mesh.edit(state=("mtllib a.mtl", "usemtl skin")), 2: mesh.edit(state=("mtllib a.mtl", "usemtl skin"))}
    )
    if size is None:
        return made | {"a.mtl": b"newmtl skin\n"}
    image = np.random.default_rng(1).integers(0, 256, (size[1], size[0], 3)).astype(np.uint8)
    return made | {"a.mtl": b"newmtl skin\nmap_Kd a.png\n", "a.png": image_file(image)}


@pytest.mark.parametrize("mesh", [SHEET, shuffled(SHEET)], ids=["in order", "shuffled"])
def test_rows_and_columns_fill_the_square(mesh: Mesh, tmp_path: Path) -> None:
    result = fixed(tmp_path, files(bare(mesh)), "uv-grid")
    frame = read_frame(result.after["manta.0001.obj"])
    at = frame.positions[frame.corners.v]
    assert frame.uvs[frame.corners.vt] == pytest.approx(at[:, :2] / (12, 6), abs=1e-6)
    assert result.touched("manta.0001.obj") == {b"vt", b"f"}
    assert result.delivery.proof.clean


@pytest.mark.parametrize(
    ("size", "width", "height"), [((64, 64), 1.0, 0.5), ((200, 50), 0.5, 1.0), ((80, 40), 1.0, 1.0)]
)
def test_in_the_aspect_of_the_texture(size: tuple[int, int], width: float, height: float, tmp_path: Path) -> None:
    result = fixed(tmp_path, files(bare(SHEET), size), "uv-grid")
    uvs = read_frame(result.after["manta.0001.obj"]).uvs
    assert np.ptp(uvs, axis=0) == pytest.approx([width, height], abs=1e-6)
    assert (uvs.min(axis=0) + uvs.max(axis=0)) / 2 == pytest.approx([0.5, 0.5], abs=1e-6)


def test_a_stated_aspect_beats_that_of_the_texture(tmp_path: Path) -> None:
    step = plan_for(tmp_path, files(bare(SHEET), (64, 64)), "uv-grid", {"aspect": 4.0}).steps[0]
    assert np.ptp(step.work.uvs, axis=0) == pytest.approx([0.5, 1.0], abs=1e-6)


def test_lettering_is_upright_on_walls_and_on_the_ground(tmp_path: Path) -> None:
    for number, turn in enumerate(
        ([[1, 0, 0], [0, 1, 0], [0, 0, 1]], [[0, -1, 0], [1, 0, 0], [0, 0, 1]], [[1, 0, 0], [0, 0, 1], [0, -1, 0]])
    ):
        mesh = SHEET.edit(positions=SHEET.positions @ np.array(turn, float).T)
        step = plan_for(tmp_path / str(number), files(bare(mesh)), "uv-grid").steps[0]
        up = -mesh.positions[:, 2] if number == 2 else mesh.positions[:, 1]
        assert np.corrcoef(up, step.work.uvs[:, 1])[0, 1] == pytest.approx(1.0)


HOLED = SHEET.edit(faces=SHEET.faces[:8] + SHEET.faces[9:])
NOTCHED = SHEET.edit(faces=SHEET.faces[:-1])
TRIANGLED = SHEET.edit(faces=(*SHEET.faces[:-1], SHEET.faces[-1][:3], (SHEET.faces[-1][0], *SHEET.faces[-1][2:])))


@pytest.mark.parametrize("mesh", [HOLED, NOTCHED, TRIANGLED, prism(8)], ids=["hole", "notch", "triangles", "prism"])
def test_what_is_no_grid_is_refused(mesh: Mesh, tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="don't form one rectangular grid of quads"):
        plan_for(tmp_path, files(bare(mesh)), "uv-grid")


def test_chosen_frames_without_vertices_are_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="the chosen frames have no vertices"):
        plan_for(tmp_path, files(SHEET) | {"manta.0003.obj": b"o manta\n"}, "uv-grid", frames=(3,))
