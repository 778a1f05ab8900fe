"""Tests of `unreadable`. The kinds of damage were observed in public data."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from inspector.inspection.inspection import inspect_folder
from tests.helpers.meshes import sphere, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, frames, heard, look, shot, write

WHOLE = wing(5).text()

FILES = {
    "empty": b"",
    "cut-off": WHOLE[:700] if WHOLE[699:700].isdigit() else WHOLE[:701],
    "nul-run": WHOLE[:400] + bytes(512) + WHOLE[912:],
    "compressed": b"\x1f\x8b\x08" + bytes(40),
    "foreign": b"<html>\n<body>\nGateway timeout\n</body>\n</html>\n",
    "no-mesh": b"f 1 2 3\n",
    "object-file": b"\x7fELF\x02\x01\x01" + bytes(40),
}


@pytest.mark.parametrize("kind", FILES)
def test_a_file_that_is_no_frame(kind: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "unreadable", shot() | {"manta.0005.obj": FILES[kind]})
    assert said == [("unreadable", "error", [5.0])]
    finding = finding_of(inspection, "unreadable")
    assert finding.numbers["kind"] == kind
    assert [where.file.raw for where in finding.where] == [b"manta.0005.obj"]
    assert finding.fixes == ("fill-frames",)


def test_a_file_cut_just_behind_a_whole_line_shows_by_its_neighbours(tmp_path: Path) -> None:
    cut = WHOLE[: WHOLE.rindex(b"\nf")]
    said, inspection = broken(tmp_path, "unreadable", shot() | {"manta.0005.obj": cut})
    assert said == [("unreadable", "error", [5.0])]
    assert finding_of(inspection, "unreadable").numbers == {"kind": "cut-short", "vertices": 20, "faces": 11}


@pytest.mark.parametrize(
    ("keyword", "check"), [(b"\nf ", "face-count"), (b"\nvt ", "face-count"), (b"\nv ", "unreadable")]
)
def test_a_file_that_ends_early_after_a_whole_line(keyword: bytes, check: str, tmp_path: Path) -> None:
    """If only faces are missing from a frame, this may be intended, for example because an object is hidden."""
    inspection = look(tmp_path, shot() | {"manta.0005.obj": WHOLE[: WHOLE.rindex(keyword) + 1]})
    assert [one for one in heard(inspection) if one[1] != "note"] == [(check, "error", [5.0])]
    if check == "unreadable":
        assert finding_of(inspection, check).message == "the file ends early: 19 of 20 vertices and 0 of 12 faces"


def test_a_mesh_that_changes_throughout_and_ends_early(tmp_path: Path) -> None:
    """If the last sixth of the lines is missing, some vertices belong to no face, which shows that the file ends early.
    If only the last face is missing, the mesh just has a hole."""
    texts = {number: sphere(12 + number, 20 + number, 2.0).text() for number in range(1, 13)}
    lines = texts[5].splitlines(keepends=True)
    cut = b"".join(lines[: 5 * len(lines) // 6])
    said = heard(look(tmp_path / "cut", frames(texts | {5: cut})))
    assert [one for one in said if one[1] != "note"] == [("unreadable", "error", [5.0])]
    said = heard(look(tmp_path / "hole", frames(texts | {5: b"".join(lines[:-1])})))
    assert [one for one in said if one[1] != "note"] == [("boundary-edges", "error", [5.0])]


def test_one_finding_a_kind_over_all_its_frames(tmp_path: Path) -> None:
    files = shot() | {"manta.0005.obj": b"", "manta.0007.obj": b"", "manta.0009.obj": FILES["foreign"]}
    assert heard(look(tmp_path, files)) == [("unreadable", "error", [5.0, 7.0]), ("unreadable", "error", [9.0])]


def test_nothing_readable_at_all(tmp_path: Path) -> None:
    files = {name: b"" for name in shot() if name.endswith(".obj")}
    assert heard(look(tmp_path, files)) == [("unreadable", "error", [float(n) for n in range(1, 13)])]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_without_permission(tmp_path: Path) -> None:
    write(tmp_path, shot())
    (tmp_path / "manta.0005.obj").chmod(0)
    (inspection,) = inspect_folder(tmp_path).inspections
    assert heard(inspection) == [("unreadable", "error", [5.0])]
