"""Tests of packages, unpacked by the standard library's reader."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from PIL import Image

from inspector.cli.registry import ready
from inspector.delivery import pack as packing
from inspector.delivery.audit import Audit, audit
from inspector.delivery.deliver import deliver
from inspector.delivery.pack import frames_to_show, pack
from inspector.delivery.planning import make_plan
from inspector.errors import Cancelled, MeshqcError, Refusal
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.discovery.settings import Settings
from tests.helpers.command import digests, environment, meshqc
from tests.helpers.sequences import shot, write


@pytest.fixture(scope="module")
def out(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("pack") / "kelp"
    deliver(make_plan(inspect_folder(demo / "kelp_broken"), ()), place)
    return place


def proof_of(out: Path) -> Audit:
    return audit(out, Settings(), lambda _, __: None)


def packed(out: Path, place: Path, **how: object) -> None:
    pack(out, proof_of(out), place, {"proof/note.txt": b"seen"}, lambda *_: None, **how)  # type: ignore[arg-type]


def test_a_zip_file_unpacked_elsewhere(out: Path, tmp_path: Path) -> None:
    packed(out, tmp_path / "kelp.zip")
    with zipfile.ZipFile(tmp_path / "kelp.zip") as archive:
        assert archive.testzip() is None
        archive.extractall(tmp_path / "there")
    there = tmp_path / "there" / "kelp"
    assert digests(there / "kelp") == digests(out)
    assert proof_of(there / "kelp").proven
    assert (there / "proof" / "note.txt").read_bytes() == b"seen"
    run = subprocess.run(["sha256sum", "-c", "--quiet", "SHA256SUMS"], cwd=there, check=False, timeout=60)
    assert run.returncode == 0  # GNU coreutils


def test_the_same_delivery_gives_the_same_bytes(out: Path, tmp_path: Path) -> None:
    places = []
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        places.append(tmp_path / name / "kelp.zip")
        packed(out, places[-1])
    assert places[0].read_bytes() == places[1].read_bytes()


def test_a_folder(out: Path, tmp_path: Path) -> None:
    packed(out, tmp_path / "package")
    assert digests(tmp_path / "package" / "kelp") == digests(out)
    assert [path.name for path in tmp_path.iterdir()] == ["package"]


def test_what_is_there_is_left_as_it_is(out: Path, tmp_path: Path) -> None:
    for name in ("kelp.zip", "package"):
        (tmp_path / name).write_text("mine")
        with pytest.raises(Refusal, match="taken in the meantime"):
            packed(out, tmp_path / name)
        assert (tmp_path / name).read_text() == "mine"


def test_stopped(out: Path, tmp_path: Path) -> None:
    with pytest.raises(Cancelled):
        packed(out, tmp_path / "kelp.zip", cancelled=lambda: True)
    assert list(tmp_path.iterdir()) == []


KILLED = """
import os, signal, sys
from pathlib import Path
from inspector.delivery.audit import audit
from inspector.delivery.pack import frames_to_show, pack
from inspector.sequence.discovery.settings import Settings
out, place = map(Path, sys.argv[1:])
progress = lambda what, done, of: os.kill(os.getpid(), signal.SIGKILL) if what == "packing" and done == 3 else None
pack(out, audit(out, Settings(), lambda *_: None), place, {}, progress)
"""


def test_what_a_killed_run_leaves_is_cleared_up_by_the_next(out: Path, tmp_path: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-c", KILLED, out, tmp_path / "kelp.zip"], env=environment(), timeout=60, check=False
    )
    assert run.returncode == -signal.SIGKILL
    (left,) = tmp_path.iterdir()
    assert left.name.startswith(".kelp.zip.")
    packed(out, tmp_path / "kelp.zip")
    assert [path.name for path in tmp_path.iterdir()] == ["kelp.zip"]


def test_a_delivery_that_changes_while_it_is_packed(out: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usual = packing.read_place
    monkeypatch.setattr(packing, "read_place", lambda place: usual(place).replace(b"v 0", b"v 1"))
    with pytest.raises(MeshqcError, match="changed while it was being packed"):
        packed(out, tmp_path / "kelp.zip")
    assert list(tmp_path.iterdir()) == []


def test_what_is_no_longer_what_was_delivered_is_not_packed(
    out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    packed(out, tmp_path / "package")
    changed = tmp_path / "package" / "kelp"
    (changed / "HANDOFF.txt").write_text("other words")
    assert ready(["pack", str(changed), "--output", str(tmp_path / "new.zip")])() == 1
    error = capsys.readouterr().err
    assert "not packed, because it differs from the receipt or has new findings" in error
    assert error.endswith(f"meshqc verify {changed}\n")
    assert not (tmp_path / "new.zip").exists()


def test_a_package_explains_itself_and_is_verified_elsewhere(demo: Path, tmp_path: Path) -> None:
    out, file = tmp_path / "buoy_delivery", tmp_path / "buoy.zip"
    assert meshqc("fix", demo / "buoy", "--output", out, "--as", "obj", "--fps", "25").returncode == 0
    words = ("--captions", demo / "buoy" / "captions.toml", "--unit", "m")
    run = meshqc("pack", out, "--output", file, *words)
    assert (run.returncode, run.stderr) == (0, "")
    (tmp_path / "elsewhere").mkdir()
    with zipfile.ZipFile(file) as archive:
        archive.extractall(tmp_path / "elsewhere")
    there = tmp_path / "elsewhere" / "buoy"
    check = subprocess.run(["sha256sum", "-c", "--quiet", "SHA256SUMS"], cwd=there, check=False, timeout=60)
    assert check.returncode == 0  # GNU coreutils
    assert meshqc("verify", there / "buoy_delivery").returncode == 0
    note = (there / "HANDOFF.txt").read_text()
    for said in (
        "Frame rate: 25 fps.",
        "One unit of the scene: 1 m.",
        "Range: 24 files, frames 1-24; nothing found.",
        "units along x, y, z in frame 1.",
        "Texture of buoy_label: aspect ratio 2.38",
        "pixels: the surface fills a picture 1920 pixels wide.",
        "en: HARBOUR | AQUARIUM: readable in the required frames 1-8.",
        "unreadable in all of the required frames 1-8",
    ):
        assert said in note
    listed = [line.partition(": ")[0] for line in note.partition("In this package")[2].splitlines() if ": " in line]
    for path in listed[:-2]:
        assert (there / path).exists()
    textures = []
    for name in ("en", "de", "el"):
        with Image.open(there / "captions" / f"{name}.png") as image:
            assert image.width / image.height == pytest.approx(2.4, abs=0.01)
            textures.append(image.tobytes())
    assert len(set(textures)) == 3
    sheet = (there / "proof" / "sheet.pdf").read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 4  # the frames, and one page per version
    page = (there / "proof" / "report.html").read_text("ascii")
    assert "Caption versions" in page
    (tmp_path / "again").mkdir()
    assert meshqc("pack", out, "--output", tmp_path / "again" / "buoy.zip", *words).returncode == 0
    assert (tmp_path / "again" / "buoy.zip").read_bytes() == file.read_bytes()


def test_what_is_left_in_a_delivery_is_said_when_it_is_packed(out: Path, tmp_path: Path) -> None:
    run = meshqc("pack", out, "--output", tmp_path / "kelp.zip")
    assert run.returncode == 0
    assert "caution: 2 errors remaining in the packed frames" in run.stderr


def test_a_scene_file_is_packed_with_what_its_frames_show(tmp_path: Path) -> None:
    """The hand-off note states the size of the frames before the conversion."""
    source = write(tmp_path / "in", shot())
    (reference,) = inspect_folder(source).inspections
    low, high = reference.series.reference_facts.box[:3], reference.series.reference_facts.box[3:]
    out, movie = tmp_path / "scene", tmp_path / "moving.mp4"
    assert meshqc("fix", source, "--output", out, "--as", "abc", "--fps", "25").returncode == 0
    movie.write_bytes(b"frames")
    places = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        places.append(tmp_path / name / "scene.zip")
        run = meshqc("pack", out, "--output", places[-1], "--add", movie)
        assert (run.returncode, run.stderr) == (0, "")
        assert [path.name for path in places[-1].parent.iterdir()] == ["scene.zip"]
    assert places[0].read_bytes() == places[1].read_bytes()
    with zipfile.ZipFile(places[0]) as archive:
        archive.extractall(tmp_path / "there")
    there = tmp_path / "there" / "scene"
    assert digests(there / "scene") == digests(out)
    assert proof_of(there / "scene").proven
    note = (there / "HANDOFF.txt").read_text()
    count = len(reference.series.facts)
    assert f"Range: {count} files, frames 1-{count}" in note
    size = " x ".join(f"{b - a:.6g}" for a, b in zip(low, high, strict=True))
    assert f"Size: {size} units" in note
    assert "proof/moving.mp4: added by hand" in note
    page = (there / "proof" / "report.html").read_text("ascii")
    assert "Inspection of scene<" in page
    assert "Contact sheet" in page
    assert (there / "proof" / "sheet.pdf").exists()


def test_frames_of_a_scene_file_are_removed_when_it_is_stopped(tmp_path: Path) -> None:
    source = write(tmp_path / "in", shot())
    out, place = tmp_path / "scene", tmp_path / "new" / "scene.zip"
    place.parent.mkdir()
    assert meshqc("fix", source, "--output", out, "--as", "abc").returncode == 0
    with (
        pytest.raises(Cancelled),
        frames_to_show(out, proof_of(out), place, lambda *_: None, cancelled=lambda: True),
    ):
        pass
    assert list(place.parent.iterdir()) == []
