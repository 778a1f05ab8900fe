"""Tests of `meshqc unpack` and `fix --as`."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from pxr import Sdf, Usd, UsdGeom

from inspector.formats.alembic.times import ACYCLIC, TimeSampling
from inspector.inspection.inspection import inspect_folder
from tests.helpers.alembic import SQUARE, add_mesh, archive_bytes
from tests.helpers.command import meshqc


@pytest.fixture
def stage(tmp_path: Path) -> Path:
    """Return the path of a USD stage with ten frames of a square. It states no unit, so centimetres are assumed."""
    path = tmp_path / "kelp.usda"
    stage = Usd.Stage.CreateNew(str(path))
    UsdGeom.SetStageUpAxis(stage, "Z")
    stage.SetStartTimeCode(1)
    stage.SetEndTimeCode(10)
    mesh = UsdGeom.Mesh.Define(stage, "/reef/kelp")
    for number in range(1, 11):
        mesh.CreatePointsAttr().Set([(0, 0, number), (1, 0, number), (1, 0, number + 2), (0, 0, number + 2)], number)
    mesh.CreateFaceVertexCountsAttr([4])
    mesh.CreateFaceVertexIndicesAttr([0, 1, 2, 3])
    stage.Save()
    return path


def test_without_out_it_lists_what_is_in_the_file(stage: Path) -> None:
    run = meshqc("unpack", stage)
    assert run.returncode == 0
    assert run.stdout.splitlines()[:3] == [
        "kelp.usda: frames 1-10, 1 mesh, 24 fps (as stated in the file)",
        "1 unit is 0.01 m",
        "z is up in the file: all frames are rotated so that y is up",
    ]
    assert run.stdout.splitlines()[-2] == "  /reef/kelp; subdivision cage"
    assert run.stdout.splitlines()[-1] == f"to write the frames: meshqc unpack {stage} OUT"
    run = meshqc("unpack", stage, "--frames", "2-8", "--unit", "m", "--mesh", "/reef")
    command = f"to write the frames: meshqc unpack {stage} OUT --mesh=/reef --frames 2-8 --unit m"
    assert run.stdout.splitlines()[-1] == command


def test_frames_are_written_and_judged(stage: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run = meshqc("unpack", stage, out, "--frames", "2-8", "--step", "3", "--unit", "m", "--fail-on", "never")
    assert run.returncode == 0
    notes = ["HANDOFF.txt", "SHA256SUMS", "meshqc-receipt.json"]
    assert sorted(path.name for path in out.iterdir()) == sorted([*notes, *(f"kelp.{n:04d}.obj" for n in (2, 5, 8))])
    assert (out / "kelp.0005.obj").read_text().splitlines()[:2] == ["v 0.0 0.05 0.0", "v 0.01 0.05 0.0"]
    assert "kelp.####.obj  3 files, frames 2-8" in run.stdout
    assert "frames are scaled by 0.01, so that 1 unit in the frames is 1 m" in run.stderr
    assert run.stderr.splitlines()[-1] == f"written to {out}"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["kelp.usda", "out"], "nothing else is left"


def test_negative_frames_are_listed_and_the_printed_command_writes_them(stage: Path, tmp_path: Path) -> None:
    opened = Usd.Stage.Open(str(stage))
    opened.SetStartTimeCode(-2)
    opened.Save()
    run = meshqc("unpack", stage)
    assert run.returncode == 0
    assert run.stdout.startswith("kelp.usda: frames -2-10, 1 mesh")
    assert run.stdout.splitlines()[-1] == f"to write the frames: meshqc unpack {stage} OUT --start 1"
    assert "--start" in meshqc("unpack", stage, tmp_path / "refused").stderr
    assert meshqc("unpack", stage, tmp_path / "out", "--start", "0", "--fail-on", "never").returncode == 0
    assert [path.name for path in sorted((tmp_path / "out").glob("*.obj"))][::12] == ["kelp.0000.obj", "kelp.0012.obj"]
    opened.SetStartTimeCode(0)
    opened.Save()
    assert meshqc("unpack", stage).stdout.splitlines()[-1] == f"to write the frames: meshqc unpack {stage} OUT"


def test_another_uv_set_of_a_stage_is_taken_by_name(stage: Path, tmp_path: Path) -> None:
    opened = Usd.Stage.Open(str(stage))
    primvars = UsdGeom.PrimvarsAPI(opened.GetPrimAtPath("/reef/kelp"))
    for name, corner in (("st", 1.0), ("UVMap", 0.5)):
        made = primvars.CreatePrimvar(name, Sdf.ValueTypeNames.TexCoord2fArray, "vertex")
        made.Set([(0, 0), (corner, 0), (corner, corner), (0, corner)])
    opened.Save()
    listed = meshqc("unpack", stage).stdout
    assert "UV set: st" in listed
    assert "--uv-set NAME" in listed
    assert "st, UVMap" in meshqc("unpack", stage, "--uv-set", "wet").stderr
    assert meshqc("unpack", stage, tmp_path / "out", "--uv-set", "UVMap", "--frames", "1-1").returncode == 0
    assert "vt 0.5 0.5" in (tmp_path / "out" / "kelp.0001.obj").read_text()


def test_the_exit_code_is_the_verdicts(stage: Path, tmp_path: Path) -> None:
    """Missing UVs are only a note if nothing in the sequence needs UVs."""
    run = meshqc("unpack", stage, tmp_path / "out", "--fail-on", "note")
    assert run.returncode == 1
    assert "n note    no-uvs" in run.stdout
    assert meshqc("unpack", stage, tmp_path / "out2").returncode == 0


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--frames", "40-50"), "none of the requested frames is in the file"),
        (("--mesh", "/reef/jelly"), "no mesh has this path, is below it, or matches it as a pattern"),
    ],
)
def test_what_cannot_be_done_leaves_nothing(stage: Path, tmp_path: Path, options: tuple[str, ...], said: str) -> None:
    run = meshqc("unpack", stage, tmp_path / "out", *options)
    assert run.returncode == 2
    assert said in run.stderr
    assert not (tmp_path / "out").exists()


def test_what_is_there_is_not_touched(stage: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    assert meshqc("unpack", stage, tmp_path / "out").returncode == 2
    assert list((tmp_path / "out").iterdir()) == []


def test_a_file_of_another_kind(tmp_path: Path) -> None:
    (tmp_path / "kelp.obj").write_text("v 0 0 0\n")
    run = meshqc("unpack", tmp_path / "kelp.obj")
    assert (run.returncode, "scene files are .abc, .usd, .usda, .usdc, .usdz" in run.stderr) == (2, True)


def test_check_lists_the_file_and_says_how_to_go_on(stage: Path) -> None:
    run = meshqc("check", stage.parent)
    text = " ".join(run.stdout.split())
    assert "kelp.usda (1 file): a whole animation: `meshqc unpack` writes its frames (frames 1-10, 1 mesh)" in text


def test_a_file_where_a_folder_belongs_is_pointed_to_unpack(stage: Path) -> None:
    run = meshqc("check", stage)
    assert (run.returncode, "use `meshqc unpack` to extract its frames" in run.stderr) == (2, True)


def test_a_folder_where_a_file_belongs_is_named_so(stage: Path) -> None:
    run = meshqc("unpack", stage.parent)
    assert (run.returncode, run.stderr.endswith(": this is a folder; name an animation file\n")) == (2, True)


def test_fix_as_says_what_is_lost_before_it_writes(demo: Path, tmp_path: Path) -> None:
    run = meshqc("fix", demo / "manta", "--output", tmp_path / "out", "--as", "glb")
    assert run.returncode == 0
    text = " ".join(run.stdout.split())
    assert "faces with more than three corners are cut into triangles" in text
    assert text.index("no unit is stated") < text.index("written to")
    assert "24 files written and read back; 26 source files unchanged" in text
    assert len(list((tmp_path / "out").glob("manta.*.glb"))) == 24


def test_as_obj_writes_also_where_there_is_nothing_to_fix(demo: Path, tmp_path: Path) -> None:
    assert meshqc("fix", demo / "manta", "--output", tmp_path / "ply", "--as", "ply").returncode == 0
    assert meshqc("fix", tmp_path / "ply", "--output", tmp_path / "not").returncode == 0
    assert not (tmp_path / "not").exists()
    assert meshqc("fix", tmp_path / "ply", "--output", tmp_path / "out", "--as", "obj").returncode == 0
    assert len(list((tmp_path / "out").glob("manta.*.obj"))) == 24


def test_unit_needs_a_form_that_has_one(demo: Path, tmp_path: Path) -> None:
    run = meshqc("fix", demo / "manta", "--output", tmp_path / "out", "--as", "ply", "--unit", "cm")
    assert (run.returncode, "have no unit" in run.stderr) == (2, True)


def missing_in(folder: Path) -> list[float]:
    (one,) = inspect_folder(folder).inspections
    return [float(n) for found in one.findings if found.check == "missing-frames" for n in found.frames]


@pytest.fixture
def half_steps(stage: Path, tmp_path: Path) -> Path:
    """Unpack the kelp at frames 1, 1.5, 2, 2.5, 3 and 4, and return the folder."""
    opened = Usd.Stage.Open(str(stage))
    mesh = UsdGeom.Mesh(opened.GetPrimAtPath("/reef/kelp"))
    for time in (1.5, 2.5):
        mesh.GetPointsAttr().Set([(0, 0, time), (1, 0, time), (1, 0, time + 2), (0, 0, time + 2)], time)
    opened.Save()
    out = tmp_path / "out"
    run = meshqc("unpack", stage, out, "--frames", "1-4", "--sub-frames", "--unit", "m")
    assert "missing-frames" not in run.stdout
    assert sorted(path.name[5:-4] for path in out.glob("*.obj")) == ["0001", "0001.5", "0002", "0002.5", "0003", "0004"]
    return out


def test_numbers_without_a_sample_are_not_missing(half_steps: Path, tmp_path: Path) -> None:
    assert missing_in(half_steps) == []
    copies = [("padding=5", "00002.5"), ("start=7,padding=4", "0010")]
    for number, (how, name) in enumerate(copies):
        copy = tmp_path / f"copy{number}"
        meshqc("fix", half_steps, "--output", copy, "--only", f"renumber:{how}")
        assert (copy / f"kelp.{name}.obj").exists()
        assert missing_in(copy) == []
    assert meshqc("check", half_steps, "--frames", "1-5").stdout.count("at the end of the stated range") == 1


def test_a_frame_that_is_lost_after_unpacking_is_missing(half_steps: Path, tmp_path: Path) -> None:
    (half_steps / "kelp.0002.obj").unlink()
    assert missing_in(half_steps) == [2.0]
    meshqc("fix", half_steps, "--output", tmp_path / "copy", "--only", "renumber:padding=5")
    assert missing_in(tmp_path / "copy") == [2.0]


def test_a_later_export_into_the_folder_is_judged_by_its_own_numbers(half_steps: Path) -> None:
    (half_steps / "kelp.0005.obj").write_bytes((half_steps / "kelp.0004.obj").read_bytes())
    assert missing_in(half_steps) == [3.5, 4.5], "two of its four frames have a sample after them"


@pytest.mark.parametrize("step", [2, 3, 8])
def test_two_frames_with_a_step_are_a_whole_sequence(stage: Path, tmp_path: Path, step: int) -> None:
    out = tmp_path / "out"
    meshqc("unpack", stage, out, "--frames", f"1-{step + 1}", "--step", str(step), "--unit", "m", "--start", "9998")
    assert len(list(out.glob("*.obj"))) == 2
    assert missing_in(out) == []


def test_samples_of_a_short_shutter_are_sub_frames(stage: Path, tmp_path: Path) -> None:
    """Frames 1.1, 2.1 and 3.1 aren't halfway between whole frames, so their file names don't show that these frames are
    sub-frames."""
    opened = Usd.Stage.Open(str(stage))
    mesh = UsdGeom.Mesh(opened.GetPrimAtPath("/reef/kelp"))
    for time in (1.1, 2.1, 3.1):
        mesh.GetPointsAttr().Set([(0, 0, time), (1, 0, time), (1, 0, time + 2), (0, 0, time + 2)], time)
    opened.Save()
    out, copy = tmp_path / "out", tmp_path / "copy"
    run = meshqc("unpack", stage, out, "--frames", "1-5", "--sub-frames", "--unit", "m", "--fail-on", "error")
    assert (run.returncode, len(list(out.glob("*.obj")))) == (0, 8)
    meshqc("fix", out, "--output", copy, "--only", "renumber:padding=5")
    for folder in (out, copy):
        (one,) = inspect_folder(folder).inspections
        assert [float(facts.number) for facts in one.series.facts] == [1, 1.1, 2, 2.1, 3, 3.1, 4, 5]
    (out / "meshqc-receipt.json").unlink()
    assert [len(one.series.facts) for one in inspect_folder(out).inspections] == [5]


def test_a_frame_that_the_file_itself_does_not_have_is_missing(tmp_path: Path) -> None:
    """Frame 8.5 is not missing, because the last sub-frame is 7.5."""
    times = [Fraction(n, 2) for n in range(2, 16) if n not in (8, 13)] + [Fraction(8), Fraction(9)]
    sampling = TimeSampling(ACYCLIC, tuple(float(time / 24) for time in times), len(times))
    points = [np.add(SQUARE, float(time)) for time in times]
    (tmp_path / "kelp.abc").write_bytes(
        archive_bytes(lambda writer: add_mesh(writer.top, points=points, sampling=1), samplings=[sampling])
    )
    meshqc("unpack", tmp_path / "kelp.abc", tmp_path / "out", "--sub-frames", "--fps", "24", "--from-unit", "m")
    assert missing_in(tmp_path / "out") == [4.0, 6.5]
    meshqc("unpack", tmp_path / "kelp.abc", tmp_path / "whole", "--fps", "24", "--from-unit", "m")
    assert missing_in(tmp_path / "whole") == [4.0]


@pytest.mark.parametrize(
    ("times", "start", "names"),
    [
        ((0.75, 1, 1.25, 1.75, 2, 2.25), None, ["0000.75", "0001", "0001.25", "0001.75", "0002", "0002.25"]),
        ((0.75, 1, 1.25, 1.75, 2, 2.25), 11, ["0010.75", "0011", "0011.25", "0011.75", "0012", "0012.25"]),
        ((1.4, 2.4, 3.4), None, ["0001.4", "0002.4", "0003.4"]),
    ],
)
def test_sub_frames_before_and_after_the_whole_frames(
    tmp_path: Path, times: tuple[float, ...], start: int | None, names: list[str]
) -> None:
    sampling = TimeSampling(ACYCLIC, tuple(time / 24 for time in times), len(times))
    points = [np.add(SQUARE, time) for time in times]
    archive, out = tmp_path / "kelp.abc", tmp_path / "out"
    archive.write_bytes(
        archive_bytes(lambda writer: add_mesh(writer.top, points=points, sampling=1), samplings=[sampling])
    )
    more = () if start is None else ("--start", str(start))
    run = meshqc("unpack", archive, out, "--sub-frames", "--from-unit", "m", *more)
    assert (run.returncode, run.stderr.count("meshqc:")) == (0, 0)
    assert sorted(path.name[5:-4] for path in out.glob("*.obj")) == names
    (one,) = inspect_folder(out).inspections
    assert len(one.series.facts) == len(names)
