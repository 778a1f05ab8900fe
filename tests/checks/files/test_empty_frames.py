"""Tests of `empty-frames`."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from inspector.formats.files import ply
from inspector.formats.wavefront.compose import EMPTY
from tests.helpers.fixing import fixed
from tests.helpers.meshes_out import ply_text
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot

PLY = ply_text(["format ascii 1.0", "element vertex 0", *(f"property float {axis}" for axis in "xyz")], [])
SHOT = shot()


def _with(numbers: tuple[int, ...], data: bytes = EMPTY, ending: str = "obj") -> dict[str, bytes]:
    files = {name: text for name, text in SHOT.items() if name not in {f"manta.{number:04}.obj" for number in numbers}}
    return files | {f"manta.{number:04}.{ending}": data for number in numbers}


def test_between_others_a_warning(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "empty-frames", _with((5, 6)))
    assert said == [("empty-frames", "warning", [5.0, 6.0])]
    finding = finding_of(inspection, "empty-frames")
    assert finding.message == "2 empty frames between frames that have a mesh"
    assert finding.fixes == ("fill-frames",)


@pytest.mark.parametrize("numbers", [(1, 2), (12,), (1, 11, 12)], ids=["before", "after", "both"])
def test_before_and_after_the_mesh_a_note(numbers: tuple[int, ...], tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "empty-frames", _with(numbers))
    assert said == [("empty-frames", "note", [float(number) for number in numbers])]
    assert finding_of(inspection, "empty-frames").fixes == ()  # there is a neighbour on one side only


def test_all_frames(tmp_path: Path) -> None:
    inspection = look(tmp_path, {name: EMPTY for name in SHOT if name.endswith(".obj")})
    assert [(check, severity) for check, severity, _ in heard(inspection)] == [("empty-frames", "warning")]


@pytest.mark.parametrize(
    ("data", "ending"),
    [
        (PLY, "ply"),
        (bytes(84), "stl"),
        (b"solid a\nendsolid a\n", "stl"),
        (b"OFF\n0 0 0\n", "off"),
        (b"# fluid\n", "obj"),
    ],
    ids=["PLY", "binary STL", "STL text", "OFF", "OBJ"],
)
def test_an_empty_file_of_each_format_is_an_empty_frame(data: bytes, ending: str, tmp_path: Path) -> None:
    files = {f"foam.{number:04}.{ending}": data for number in (1, 2, 3)}
    assert heard(look(tmp_path, files)) == [("empty-frames", "warning", [1.0, 2.0, 3.0])]


@pytest.mark.parametrize("fix", ["scale", "triangulate", "recompute-normals"])
def test_fixes_pass_over_them(fix: str, tmp_path: Path) -> None:
    parameters = {"factor": 2} if fix == "scale" else {}
    done = fixed(tmp_path, _with((1, 5)), fix, parameters)
    assert not done.delivery.proof.new
    assert not {Fraction(1), Fraction(5)} & set(done.step.frames)
    assert done.after["manta.0005.obj"] == EMPTY


def test_what_is_written_of_nothing_is_empty_too() -> None:
    assert b"element vertex 0\n" in ply.write(ply.read(PLY, lambda _: b""))
