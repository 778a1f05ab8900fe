"""Tests of unpacking that is stopped and resumed."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from inspector.__main__ import main
from inspector.delivery.unpack import UnpackRequest, unpack
from inspector.errors import Cancelled, MeshqcError
from inspector.formats.animation import Take
from inspector.formats.wavefront.compose import compose
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.discovery.animations import open_animation
from inspector.sequence.discovery.settings import Settings
from tests.helpers.alembic import SQUARE, add_mesh, archive_bytes


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    path = tmp_path / "kelp.abc"
    points = [np.add(SQUARE, number) for number in range(8)]
    path.write_bytes(archive_bytes(lambda writer: add_mesh(writer.top, points=points)))
    return path


def test_stopped_and_taken_up_again(archive: Path, tmp_path: Path) -> None:
    animation = open_animation(archive)
    wanted = UnpackRequest(animation.frames, Take())
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked > 5

    with pytest.raises(Cancelled, match="finished files are kept"):
        unpack(archive, animation, wanted, tmp_path / "out", cancelled=stop)
    assert not (tmp_path / "out").exists()
    (kept,) = tmp_path.glob(".out.*.unfinished/files")
    before = {path.name: path.stat().st_mtime_ns for path in kept.glob("*.obj")}
    assert len(before) == 5
    unpack(archive, open_animation(archive), wanted, tmp_path / "out")
    after = {path.name: path.stat().st_mtime_ns for path in (tmp_path / "out").glob("*.obj")}
    assert len(after) == 8
    assert {name: after[name] for name in before} == before, "what was written is not written again"
    unpack(archive, open_animation(archive), wanted, tmp_path / "whole")
    for path in (tmp_path / "whole").iterdir():
        assert (tmp_path / "out" / path.name).read_bytes() == path.read_bytes()


def test_a_disk_with_less_than_half_of_what_the_first_frame_tells_is_refused(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    animation = open_animation(archive)
    wanted = UnpackRequest(animation.frames, Take())
    half = 8 * len(compose(animation.mesh(Fraction(1), Take()))) // 2
    free = half - 1
    monkeypatch.setattr("inspector.delivery.staging_folder.shutil.disk_usage", lambda _: SimpleNamespace(free=free))
    with pytest.raises(MeshqcError, match=r"out needs about 0\.\d+ MB, but only 0\.000 MB is free"):
        unpack(archive, animation, wanted, tmp_path / "out")
    assert not list(tmp_path.rglob("*.obj"))
    free = half
    unpack(archive, animation, wanted, tmp_path / "out")


def test_another_choice_starts_afresh(archive: Path, tmp_path: Path) -> None:
    animation = open_animation(archive)
    with pytest.raises(Cancelled):
        unpack(
            archive,
            animation,
            UnpackRequest(animation.frames, Take()),
            tmp_path / "out",
            cancelled=iter([False, True]).__next__,
        )
    unpack(archive, animation, UnpackRequest(animation.frames[:2], Take(scale=2.0)), tmp_path / "out")
    assert sorted(path.name for path in (tmp_path / "out").glob("*.obj")) == ["kelp.0001.obj", "kelp.0002.obj"]
    assert "v 2 0 0\n" in (tmp_path / "out" / "kelp.0001.obj").read_text()


def test_a_source_that_changes_is_not_delivered(archive: Path, tmp_path: Path) -> None:
    animation = open_animation(archive)

    def overwrite(done: int, _: int) -> None:
        if done == 3:
            archive.write_bytes(archive.read_bytes() + b"\0")

    with pytest.raises(MeshqcError, match=r"still being written|changed while"):
        unpack(archive, animation, UnpackRequest(animation.frames, Take()), tmp_path / "out", overwrite)
    assert not (tmp_path / "out").exists()


def test_the_rate_goes_on_with_the_frames(archive: Path, tmp_path: Path) -> None:
    animation = open_animation(archive)
    wanted = UnpackRequest(animation.frames, Take(), settings=Settings(rate=Fraction(25)))
    unpack(archive, animation, wanted, tmp_path / "out")
    assert inspect_folder(tmp_path / "out").settings.rate == 25
    assert inspect_folder(tmp_path / "out", Settings(rate=Fraction(30))).settings.rate == 30, "what is stated anew wins"


def test_frames_below_0_are_numbered_from_another_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "kelp.usda"
    times = ", ".join(f"{n}: [({n},0,0), (1,0,0), (0,1,0)]" for n in (-2, -1, 0, 1))
    path.write_text(
        "#usda 1.0\n(\n startTimeCode = -2\n endTimeCode = 1\n)\n"
        f'def Mesh "kelp" {{\n point3f[] points.timeSamples = {{ {times} }}\n'
        " int[] faceVertexCounts = [3]\n int[] faceVertexIndices = [0,1,2]\n}\n"
    )
    assert main(["unpack", str(path), str(tmp_path / "out")]) == 2
    assert "renumber the frames with --start" in capsys.readouterr().err
    assert main(["unpack", str(path), str(tmp_path / "out"), "--start", "1001", "--from-unit", "m"]) in (0, 1)
    assert "frame -2 becomes frame 1001" in capsys.readouterr().err
    assert "v 1 0 0\n" in (tmp_path / "out" / "kelp.1004.obj").read_text()
    assert sorted(path.name for path in (tmp_path / "out").glob("*.obj"))[0] == "kelp.1001.obj"
