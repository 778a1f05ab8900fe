"""Tests of `uv-collapsed`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.checks.uvs.uv_collapsed import CHECK
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.meshes import wing
from tests.helpers.one_thing import broken
from tests.helpers.quads import Quad, quad_frames
from tests.helpers.sequences import MATERIALS, Files, finding_of, heard, look
from tests.helpers.surfaces import EVERY, sequence, with_face
from tests.helpers.uvs import all_laid


def test_an_island_on_a_line(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "uv-collapsed", all_laid(lambda uv: uv * [0, 1] + [0.7, 0]))
    assert said == [("uv-collapsed", "warning", EVERY)]
    finding = finding_of(inspection, "uv-collapsed")
    assert finding.message == "6 faces without area in the texture: 50.0% of the surface of material `skin`"
    assert finding.where[0].element == "face 3"


def test_everything_at_one_point(tmp_path: Path) -> None:
    inspection = look(tmp_path, all_laid(lambda uv: uv * 0 + 0.5, first=0))
    assert heard(inspection) == [("uv-collapsed", "warning", EVERY)]
    assert "all UVs are at one point" in finding_of(inspection, "uv-collapsed").message


def test_a_palette(tmp_path: Path) -> None:
    """A material may take a single colour from one point of the texture on purpose."""

    def text(n: int) -> bytes:
        mesh = wing(n)
        uvs = np.concatenate([mesh.uvs[:12], mesh.uvs[12:] * 0 + 0.95])
        left = [face for face in mesh.faces if face[0][0] % 5 < 2]
        right = [face for face in mesh.faces if face[0][0] % 5 >= 2]
        lines = mesh.edit(uvs=uvs, faces=(*left, *right)).text().split(b"\n")
        lines.insert(next(at for at, line in enumerate(lines) if line.startswith(b"f ")) + len(left), b"usemtl fin")
        return b"\n".join(lines)

    files: Files = {**MATERIALS, "manta.mtl": MATERIALS["manta.mtl"] + b"newmtl fin\nmap_Kd skin.png\n"}
    files |= {f"manta.{n:04}.obj": text(n) for n in range(1, 13)}
    assert heard(look(tmp_path, files)) == [("uv-collapsed", "note", EVERY)]


def test_a_face_without_area_on_the_surface_needs_none_in_the_texture(tmp_path: Path) -> None:
    line = [[5.0, 0, 0], [5.3, 0, 0], [6, 0, 0]]

    def at(n: int) -> object:
        mesh = with_face(wing(n), line)
        return mesh.edit(uvs=np.concatenate([mesh.uvs[:24], mesh.uvs[24:] * 0 + 0.95]))

    assert heard(look(tmp_path, sequence(at))) == [("zero-area-faces", "note", EVERY)]  # type: ignore[arg-type]


@pytest.mark.parametrize(("share", "severity"), [(0.049, "note"), (0.051, "warning")])
def test_the_share_of_the_surface_decides(share: float, severity: str, tmp_path: Path) -> None:
    small = Quad(side=(share / (1.0 - share)) ** 0.5, uvs=[(0.5, 0.5)] * 4)
    inspection = look(tmp_path, quad_frames([Quad(), small]))
    finding = finding_of(inspection, "uv-collapsed")
    assert finding.severity.word == severity
    assert finding.numbers["of_surface"] == pytest.approx(share, abs=1e-4)
    assert finding.numbers["faces"] == 1


@pytest.mark.parametrize(("share", "reported"), [(0.0009, False), (0.0011, True)])
def test_a_tiny_share_is_rounding(share: float, reported: bool, tmp_path: Path) -> None:
    small = Quad(side=(share / (1.0 - share)) ** 0.5, uvs=[(0.5, 0.5)] * 4)
    inspection = look(tmp_path, quad_frames([Quad(), small]))
    assert ("uv-collapsed" in {check for check, _, _ in heard(inspection)}) is reported


@pytest.mark.parametrize(
    ("last", "affected"),
    [
        ("0.7 2.1", [0]),  # on the line through the other two UVs; rounding leaves an area of 1e-17
        ("0.70001 2.1", [0]),  # an area of 1.5e-6; up to 1.6e-6 counts as no area (`no-area`)
        ("0.700012 2.1", []),
    ],
)
def test_faces_on_a_slanted_line_are_drawn(last: str, affected: list[int]) -> None:
    text = f"v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0.1 0.3\nvt 0.2 0.6\nvt {last}\nf 1/1 2/2 3/3\n"
    assert CHECK.affected_faces is not None
    faces = CHECK.affected_faces(read_frame(text.encode()), None)
    assert faces is not None
    assert faces.tolist() == affected
