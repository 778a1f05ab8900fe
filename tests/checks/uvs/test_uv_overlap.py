"""Tests of `uv-overlap`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.island_overlap import island_overlap
from inspector.formats.frame import Frame
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.meshes import Mesh, grid_faces, mapped, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, Heard, finding_of, heard, look
from tests.helpers.surfaces import EVERY, sequence
from tests.helpers.uvs import all_laid, moved

NOTE = [("uv-overlap", "note", EVERY)]


def test_half_an_island_on_half_of_another(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "uv-overlap", all_laid(moved(-0.3, 0)))
    assert said == [("uv-overlap", "warning", EVERY)]
    numbers = finding_of(inspection, "uv-overlap").numbers
    assert numbers["overlap"] == pytest.approx(1 / 3, abs=0.01)
    assert numbers["partly"] == numbers["overlap"]


def test_an_island_wholly_on_another(tmp_path: Path) -> None:
    assert heard(look(tmp_path / "stacked", all_laid(moved(-0.5, 0)))) == NOTE
    assert heard(look(tmp_path / "small", all_laid(lambda uv: uv * 0.3 - [0.1, -0.3]))) == NOTE


@pytest.mark.parametrize(("wide", "said"), [(0.0065, []), (0.0095, [("uv-overlap", "warning", EVERY)])])
def test_how_much_of_the_texture_may_be_shown_twice(wide: float, said: list[Heard], tmp_path: Path) -> None:
    """The islands overlap by 0.8 % or 1.2 % of their total width. Up to 1 % is allowed (OVERLAP_SHARE)."""
    assert heard(look(tmp_path, all_laid(moved(-0.1 - wide, 0)))) == said


@pytest.mark.parametrize(("off", "severity"), [(0.036, "note"), (0.044, "warning")])
def test_from_which_share_an_island_is_stacked_on_another(off: float, severity: str, tmp_path: Path) -> None:
    """91 % or 89 % of each island's width is on the other island. The limit is 90 % (STACKED_SHARE)."""
    assert heard(look(tmp_path, all_laid(moved(off - 0.5, 0)))) == [("uv-overlap", severity, EVERY)]


def test_mirrored_halves(tmp_path: Path) -> None:
    mirror = [("uv-mirrored", "note", EVERY)]
    assert heard(look(tmp_path / "apart", all_laid(lambda uv: [0.9, 0] + uv * [-1, 1]))) == [*mirror, *NOTE]

    def welded(n: int) -> Mesh:
        mesh = wing(n)
        x = np.abs(mesh.positions[:, 0]) / 5
        uvs = np.stack([x, np.repeat(np.arange(4) / 3, 5)], axis=-1)
        return mapped(mesh.positions, [[v for v, _, _ in face] for face in mesh.faces], uvs).edit(
            head=mesh.head, state=mesh.state
        )

    assert heard(look(tmp_path / "welded", sequence(welded))) == [*mirror, *NOTE]


def folded(n: int) -> Mesh:
    mesh = wing(n)
    uvs = mesh.uvs.copy()
    uvs[12:] = np.c_[np.tile([0.5, 0.7, 0.9], 4), np.repeat(np.arange(4) / 3, 3)]
    outer = [at for at, face in enumerate(mesh.faces) if face[0][0] % 5 == 3]
    moved = {vt: len(uvs) + at for at, vt in enumerate(sorted({vt for at in outer for _, vt, _ in mesh.faces[at]}))}
    uvs = np.concatenate([uvs, uvs[list(moved)] - [0.3, 0]])
    faces = tuple(
        tuple((v, moved[vt] if at in outer else vt, vn) for v, vt, vn in face) for at, face in enumerate(mesh.faces)
    )
    return mesh.edit(uvs=uvs, faces=faces)


def test_islands_of_which_two_meet_and_one_is_stacked(tmp_path: Path) -> None:
    said: list[Heard] = heard(look(tmp_path, sequence(folded)))
    assert said == [("uv-overlap", "warning", EVERY)]


def test_two_materials_have_a_texture_each(tmp_path: Path) -> None:
    def text(n: int, second: str) -> bytes:
        mesh = wing(n)
        left = [face for face in mesh.faces if face[0][0] % 5 < 2]
        right = [face for face in mesh.faces if face[0][0] % 5 >= 2]
        uvs = np.concatenate([mesh.uvs[:12], mesh.uvs[12:] - [0.3, 0]])
        lines = mesh.edit(uvs=uvs, faces=(*left, *right)).text().split(b"\n")
        first = next(at for at, line in enumerate(lines) if line.startswith(b"f "))
        lines.insert(first + len(left), f"usemtl {second}".encode())
        return b"\n".join(lines)

    files = {"skin.png": MATERIALS["skin.png"], "manta.mtl": MATERIALS["manta.mtl"] + b"newmtl fin\nmap_Kd skin.png\n"}
    two = {f"manta.{n:04}.obj": text(n, "fin") for n in range(1, 13)}
    assert heard(look(tmp_path / "two", files | two)) == []
    one = {f"manta.{n:04}.obj": text(n, "skin") for n in range(1, 13)}
    said = heard(look(tmp_path / "one", MATERIALS | one))
    assert said == [("uv-overlap", "warning", EVERY)]


@pytest.mark.parametrize("materials", [1, 3])
def test_faces_that_all_show_the_whole_texture(materials: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A few faces are compared on the finest grid. Each of 1,600 faces would cover 65,536 cells of this grid, so a
    coarser grid is used."""
    for side in (5, 41):
        found = island_overlap(wall(side, materials), (0.0, 0.0, 1.0, 1.0))
        assert (found.stacked, found.partly, found.face) == (1.0, 0.0, 0)
    monkeypatch.setattr("inspector.checks.base.island_overlap.OVERLAP_PAIRS", 1)
    assert island_overlap(wall(5, materials), (0.0, 0.0, 1.0, 1.0)).stacked == 1.0


def wall(side: int, materials: int) -> Frame:
    x, y = np.meshgrid(np.arange(side), np.arange(side))
    places = np.stack([x.ravel(), y.ravel(), (x * y % 7).ravel()], axis=-1)
    corners = ((0, 0), (1, 0), (1, 1), (0, 1))
    faces = [tuple((v, vt, -1) for vt, v in enumerate(ring)) for ring in grid_faces(side, side)]
    text = Mesh(places, tuple(faces), uvs=np.array(corners, float)).text()
    lines = text.split(b"\n")
    first = next(at for at, line in enumerate(lines) if line.startswith(b"f "))
    step = len(faces) // materials
    for at in reversed(range(materials)):
        lines.insert(first + at * step, b"usemtl m%d" % at)
    return read_frame(b"\n".join(lines))
