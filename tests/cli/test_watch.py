"""Tests of `meshqc watch`."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import pytest

from inspector.demo.defects import DEFECTS
from inspector.inspection.arrivals import WATCH_SURE_SECONDS, Arrivals, Doubts
from inspector.sequence.discovery.settings import Settings
from tests.helpers.command import ROOT, assert_one_sentence, environment, harmful, meshqc
from tests.helpers.hostile.evil_shots import HOSTILE, hostile
from tests.helpers.watching import frame_text, looks_while, nothing

__all__ = ["hostile"]


def test_a_render_queue_stops_the_export_at_the_first_error(tmp_path: Path) -> None:
    out = tmp_path / "export"
    run = subprocess.run(
        [sys.executable, ROOT / "fixtures/render_queue.py", out, "1"],
        env=environment(),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert run.returncode == 1
    told = re.findall(r"(?m)^(\.|E error) +manta\.(\d+)", run.stdout)
    last = {int(number): sign for sign, number in told}  # a frame whose writing pauses is reported again
    assert last == {number: "E error" if number == 7 else "." for number in range(1, len(last) + 1)}
    assert "manta.0007.obj:1882  uv-mismatch: every UV index is off by +4" in run.stdout
    assert "stopped: manta.0007.obj has the first error" in run.stderr
    assert 7 <= len(list(out.glob("*.obj"))) < 30


@pytest.mark.parametrize(
    ("size", "named"),
    [
        (25.4, "1/10"),
        (254, "1/100"),
        (6.4516, "1/2.54"),
        (100, "1/39.37"),
        (3.2, None),
    ],
)
def test_a_stated_size_in_other_units_stops_the_export(demo: Path, size: float, named: str | None) -> None:
    run = meshqc("watch", demo / "manta", "--size", str(size), "--quiet-for", "4", "--stop-on-error")
    assert run.returncode == (0 if named is None else 1)
    assert ("stopped: manta.0001.obj has the first error" in run.stderr) == (named is not None)
    assert named is None or f"2.542 units long, {named} of the stated size of {size:.4g}; this is the" in run.stdout


def test_until_so_many_frames_are_there(demo: Path) -> None:
    run = meshqc("watch", demo / "manta", "--until", "24")
    assert run.returncode == 0
    lines = run.stdout.splitlines()
    assert lines[0].split() == [".", "manta.0001.obj", "600", "vertices,", "598", "faces,", "670", "UVs"]
    assert len(lines) == 25
    assert lines[-1].startswith("verdict: clean (0 errors, 0 warnings")


def test_quiet_for_and_the_verdict_of_all_checks(demo: Path) -> None:
    run = meshqc("watch", demo / "manta_broken", "--quiet-for", "2", "--frames", "1-25")
    assert run.returncode == 1
    told = {line.split()[2].split(".obj")[0][-4:] for line in run.stdout.splitlines() if line[0] == "E"}
    single = {f"{frame:04}" for one in DEFECTS for frame in one.frames if one.severity == "error" and frame != 19}
    assert single <= told
    assert not told & {"0001", "0002", "0010", "0013"}
    checked = meshqc("check", demo / "manta_broken", "--frames", "1-25").stdout
    verdict = next(line for line in checked.splitlines() if line.startswith("verdict: "))
    assert run.stdout.splitlines()[-1] == verdict
    assert meshqc("watch", demo / "manta_broken", "--until", "1", "--fail-on", "never").returncode == 0


@pytest.mark.parametrize("words", [("--until", "24"), ("--quiet-for", "5", "--stop-on-error")])
def test_a_queue_reads_the_report_at_the_end(demo: Path, words: tuple[str, ...]) -> None:
    run = meshqc("watch", demo / "manta_broken", "--json", *words)
    checked = meshqc("check", demo / "manta_broken", "--json")
    assert run.returncode == checked.returncode == 1
    assert json.loads(run.stdout) == json.loads(checked.stdout)
    assert re.search(r"(?m)^E error +manta_broken\.0007\.obj", run.stderr)
    assert ("stopped: " in run.stderr) == ("--stop-on-error" in words)
    suite = ElementTree.fromstring(meshqc("watch", demo / "manta", "--until", "24", "--format", "junit").stdout)
    assert suite.get("failures") == "0"


def test_the_details_command_applies_the_same_rules(demo: Path) -> None:
    (demo / "manta_broken" / "meshqc.toml").write_text("[checks.uv-mismatch]\nseverity = 'off'\n")
    try:
        run = meshqc("watch", demo / "manta_broken", "--no-rules", "--quiet-for", "5", "--stop-on-error")
    finally:
        (demo / "manta_broken" / "meshqc.toml").unlink()
    assert run.stderr.splitlines()[-1].endswith("--no-rules")


def test_no_frame_came(tmp_path: Path) -> None:
    run = meshqc("watch", tmp_path, "--quiet-for", "0.5")
    assert (run.returncode, run.stdout) == (2, "")
    assert_one_sentence(run.stderr.split("\n", 1)[1])


def test_a_folder_that_goes_away(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    words = [sys.executable, "-m", "inspector", "watch", str(tmp_path / "there")]
    run = subprocess.Popen(words, env=environment(), stderr=subprocess.PIPE, text=True)
    assert run.stderr is not None
    assert "press Ctrl-C to stop" in run.stderr.readline()
    (tmp_path / "there").rmdir()
    assert_one_sentence(run.communicate(timeout=60)[1])
    assert run.returncode == 2


def test_a_folder_that_is_not_there_is_told_once(tmp_path: Path) -> None:
    run = meshqc("watch", tmp_path / "gone", "--quiet-for", "1")
    assert (run.returncode, run.stdout) == (2, "")
    assert_one_sentence(run.stderr)


def test_ctrl_c_ends_with_the_verdict(demo: Path) -> None:
    words = [sys.executable, "-m", "inspector", "watch", str(demo / "manta")]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen(words, env=environment(), text=True, **pipes) as watching:  # type: ignore[call-overload]
        first = watching.stdout.readline()
        watching.send_signal(signal.SIGINT)
        rest, talk = watching.communicate(timeout=60)
    assert first.startswith(".")
    assert rest.splitlines()[-1].startswith("verdict: clean")
    assert watching.returncode == 0
    assert "Traceback" not in talk


def test_hostile_names_leave_no_control_byte(hostile: Path) -> None:
    run = meshqc("watch", hostile, "--until", "2")
    assert run.returncode == 1
    assert harmful(run.stdout + run.stderr) == []
    assert "\\x1b" in run.stdout


def test_what_a_later_frame_shows_of_an_earlier_one_is_told_then(demo: Path, tmp_path: Path) -> None:
    """The frame that arrives first is wrong. This error is found only after two more frames have arrived."""

    def write(number: int, name: str) -> Callable[[], object]:
        source = demo / name / f"{name}.{number:04}.obj"
        return lambda: (tmp_path / f"manta.{number:04}.obj").write_bytes(source.read_bytes())

    shutil.copytree(demo / "manta/textures", tmp_path / "textures")
    for name in ("manta", "manta_broken"):
        shutil.copy(demo / f"{name}/{name}.mtl", tmp_path)
    arrivals = Arrivals(Settings())
    steps = [write(23, "manta_broken"), nothing, write(21, "manta"), write(22, "manta"), nothing, nothing]
    news = [arrivals.take(look) for look in looks_while(tmp_path, steps)]
    told = [(int(one.facts.number), one.new, one.is_error) for look in news for one in look]
    assert told == [(23, True, False), (21, True, False), (23, False, True), (22, True, False)]


def test_a_frame_written_again_is_judged_again(demo: Path, tmp_path: Path) -> None:
    path = tmp_path / "manta.0001.obj"
    without = b"\n".join(line for line in frame_text(demo, 1).splitlines() if not line.startswith(b"mtllib")) + b"\n"
    arrivals = Arrivals(Settings())
    steps: list[Callable[[], object]] = [
        lambda: path.write_bytes(frame_text(demo, 1)),
        nothing,
        nothing,
        lambda: path.write_bytes(without),
        nothing,
        nothing,
    ]
    news = [one for look in looks_while(tmp_path, steps) for one in arrivals.take(look)]
    assert [one.new for one in news] == [True, True]
    assert "library-missing" in {finding.check for finding in news[0].findings}
    assert "library-missing" not in {finding.check for finding in news[1].findings}


def test_an_export_is_stopped_for_what_stays_wrong(demo: Path, tmp_path: Path) -> None:
    """A file is incomplete for a while if the exporter pauses in the middle of it."""
    path = tmp_path / "manta.0001.obj"
    shutil.copytree(demo / "manta/textures", tmp_path / "textures")
    shutil.copy(demo / "manta/manta.mtl", tmp_path)
    half = (demo / "manta_broken/manta_broken.0007.obj").read_bytes()
    steps: list[Callable[[], object]] = [
        lambda: path.write_bytes(half),
        nothing,
        nothing,
        lambda: path.write_bytes(frame_text(demo, 1)),
        nothing,
        nothing,
    ]
    arrivals, doubts, sure = Arrivals(Settings()), Doubts(), WATCH_SURE_SECONDS
    news = [arrivals.take(look) for look in looks_while(tmp_path, steps)]
    told = [one for look in news for one in look]
    assert [one.is_error for one in told] == [True, False]
    assert not doubts.take(told[:1], 0.0)
    assert not doubts.take([], 0.9 * sure)
    assert not doubts.take(told[1:], 1.1 * sure)
    assert not doubts.take([], 9 * sure)
    assert not doubts.take(told[:1], 10 * sure)
    assert doubts.take([], 11 * sure) == told[:1]


def test_delivery_rules_hold_for_each_frame_as_it_comes(demo: Path, tmp_path: Path) -> None:
    rules = tmp_path / "house.toml"
    rules.write_text('[mesh]\ncorners = [3]\nnormals = "forbidden"\n')
    run = meshqc("watch", demo / "manta", "--rules", rules, "--stop-on-error")
    assert run.returncode == 1
    first = [line for line in run.stdout.splitlines() if "manta.0001.obj" in line]
    assert [line.split(": ")[1] for line in first] == ["mesh.corners", "mesh.normals"]


def test_a_name_told_is_the_one_on_disk(hostile: Path) -> None:
    (look, *_) = [one for one in looks_while(hostile, [nothing, nothing]) if one.arrived]
    names = [one.file.raw for one in Arrivals(Settings()).take(look)]
    assert names == [HOSTILE + b"0001.obj", HOSTILE + b"0003.obj"]
    assert all(os.fsdecode(name) in os.listdir(hostile) for name in names)
