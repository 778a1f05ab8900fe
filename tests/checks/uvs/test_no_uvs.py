"""Tests of `no-uvs` and `partial-uvs`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.report.text import verdict_text
from tests.helpers.meshes import ABSENT, Mesh, plain, wing, with_faces
from tests.helpers.one_thing import broken
from tests.helpers.sequences import Files, finding_of, frames, heard, look, look_at_all, shot


def bare(mesh: Mesh) -> Mesh:
    return with_faces(mesh, lambda corner: (corner[0], ABSENT, corner[2])).edit(uvs=np.empty((0, 2)))


def unused(mesh: Mesh) -> Mesh:
    return bare(mesh).edit(uvs=mesh.uvs)


@pytest.mark.parametrize(("edit", "left"), [(bare, 0), (unused, 24)])
def test_one_frame(edit: object, left: int, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "no-uvs", shot({5: edit}))
    assert said == [("no-uvs", "error", [5.0])]
    assert finding_of(inspection, "no-uvs").numbers == {"frames": 1, "unused": left}


def test_all_frames_are_one_finding(tmp_path: Path) -> None:
    numbers = range(1, 13)
    assert heard(look(tmp_path, shot(dict.fromkeys(numbers, bare)))) == [
        ("no-uvs", "error", [float(n) for n in numbers])
    ]


def test_points_alone_need_none(tmp_path: Path) -> None:
    cloud = plain(np.arange(30.0).reshape(10, 3), [])
    inspection = look(tmp_path, frames({1: cloud, 2: cloud}))
    assert "no-uvs" in dict(inspection.verdict.skipped)


def test_some_faces(tmp_path: Path) -> None:
    said, inspection = broken(
        tmp_path,
        "partial-uvs",
        shot({5: lambda mesh: with_faces(mesh, lambda corner: (corner[0], ABSENT, corner[2]), of=[4, 5])}),
    )
    assert said == [("partial-uvs", "error", [5.0])]
    finding = finding_of(inspection, "partial-uvs")
    assert finding.numbers == {"faces": 2}
    assert finding.where[0].element == "face 5"
    line = shot({5: bare})["manta.0005.obj"].split(b"\n").index(b"f 6 7 12 11")
    assert finding.where[0].line == line + 24 + 1  # the 24 lines of UVs are still there


def collision_body(mesh: Mesh) -> Mesh:
    return bare(mesh).edit(head=("o body",), state=())


def test_where_nothing_asks_for_uvs_it_is_a_note(tmp_path: Path) -> None:
    files: Files = frames({number: collision_body(wing(number)) for number in range(1, 13)})
    everywhere = [float(number) for number in range(1, 13)]
    assert heard(look(tmp_path / "alone", files)) == [("no-uvs", "note", everywhere)]
    texture = {"body.png": b"an image of any kind", "body.mtl": b"newmtl skin\nmap_Kd skin.png\n"}
    for name, data in texture.items():
        inspection = look(tmp_path / name.replace("/", "-"), files | {name: data})
        assert ("no-uvs", "error", everywhere) in heard(inspection)
    plain_colours = look(tmp_path / "colours", files | {"body.mtl": b"newmtl skin\nKd 0.8 0.8 0.8\n"})
    assert heard(plain_colours) == [("no-uvs", "note", everywhere)]
    verdict = verdict_text(look_at_all(tmp_path / "again", files))
    assert verdict == "clean (0 errors, 0 warnings, 1 note); without UVs, no texture can be shown"


@pytest.mark.parametrize(
    ("library", "severity"),
    [
        (b"newmtl skin\nKd 0.8 0.2 0.1\n", "note"),
        (b"newmtl skin\nmap_Kd skin.png\n", "error"),
        (b"newmtl other\nKd 0.8 0.2 0.1\n", "error"),
        (None, "error"),
    ],
    ids=["plain colours", "a map", "another material", "no library"],
)
def test_materials_of_plain_colours_need_none(library: bytes | None, severity: str, tmp_path: Path) -> None:
    """A missing library may contain texture maps, which need UVs."""
    files = {name: data for name, data in shot(dict.fromkeys(range(1, 13), bare)).items() if name.endswith(".obj")}
    inspection = look(tmp_path, files | ({} if library is None else {"manta.mtl": library}))
    assert finding_of(inspection, "no-uvs").severity.word == severity
