"""Tests of real faults: `meshqc fix` is killed, runs out of space, is denied access or competes with itself."""

from __future__ import annotations

import math
import os
import random
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.helpers.broken.uvs import bare
from tests.helpers.command import assert_one_sentence, digests, environment, meshqc, starved
from tests.helpers.sequences import shot, write

WORDS = ("--with", "scale:factor=0.01", "--no-cache")


@dataclass(frozen=True)
class Calm:
    """A source, and an undisturbed delivery of it.

    Attributes:
        source: The source folder.
        before: The digests of the source.
        delivered: The digests of the delivery.
        sizes: The sizes of the delivered files in bytes.
        first: Seconds from the start of the delivery until the first file is written.
        whole: Seconds from the start of the delivery until its end.
    """

    source: Path
    before: dict[str, str]
    delivered: dict[str, str]
    sizes: dict[str, int]
    first: float
    whole: float


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> Calm:
    folder = tmp_path_factory.mktemp("calm")
    source = write(folder / "in", shot({4: bare}, range(1, 31)))
    before = digests(source)
    start = time.monotonic()
    run = fix(source, folder / "out")
    while run.poll() is None and not unfinished(folder):
        time.sleep(0.001)
    first = time.monotonic() - start
    stderr = run.communicate(timeout=60)[1]
    assert run.returncode == 0, stderr
    whole = time.monotonic() - start
    sizes = {path.name: path.stat().st_size for path in (folder / "out").iterdir()}
    return Calm(source, before, digests(folder / "out"), sizes, first, whole)


def fix(source: Path, out: Path, *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "inspector", "fix", str(source), "--output", str(out), *(words or WORDS)],
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )


def unfinished(folder: Path) -> list[Path]:
    return list(folder.glob(".*.unfinished"))


def assert_nothing_half_done(calm: Calm, out: Path) -> None:
    assert digests(calm.source) == calm.before
    if os.path.lexists(out):
        assert digests(out) == calm.delivered
    strange = {path.name for path in out.parent.iterdir()} - {out.name} - {path.name for path in unfinished(out.parent)}
    assert strange == set()


def assert_completes(calm: Calm, out: Path) -> None:
    run = meshqc("fix", calm.source, "--output", out, *WORDS)
    assert run.returncode == 0, run.stdout + run.stderr
    assert digests(out) == calm.delivered
    assert [path.name for path in out.parent.iterdir()] == [out.name]
    assert digests(calm.source) == calm.before


@pytest.mark.parametrize("kills", [6, pytest.param(60, marks=pytest.mark.slow)])
def test_a_kill_at_any_moment(calm: Calm, tmp_path: Path, kills: int) -> None:
    out, moments = tmp_path / "out", random.Random(kills)
    hit, latest, amid = 0, calm.whole, 0
    while hit < kills or not amid:
        run = fix(calm.source, out)
        time.sleep(moments.uniform(0.8 * calm.first, latest))
        run.kill()
        run.communicate(timeout=60)
        hit += run.returncode < 0
        amid += run.returncode < 0 and bool(unfinished(tmp_path))
        latest = max(calm.first, latest * (1.02 if run.returncode < 0 else 0.9))
        assert_nothing_half_done(calm, out)
        if out.exists():
            write_away(out)
    assert_completes(calm, out)


def folded(number: int, middle: float | None = None) -> bytes:
    """Return a frame with two squares that share an edge. The squares are in one plane in frame 1, and at right angles
    in frame 40.

    `middle` is the u coordinate of the edge. If it is None, there are no UVs.
    """
    bend = 0.5 * math.pi * (number - 1) / 39
    x, z = 1.0 + math.cos(bend), math.sin(bend)
    points = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (x, 0, z), (x, 1, z)]
    lines = ["v {:.6f} {:.6f} {:.6f}".format(*point) for point in points]
    if middle is None:
        lines += ["f 1 2 3 4", "f 2 5 6 3"]
    else:
        lines += [f"vt {u} {v}" for u, v in ((0, 0), (middle, 0), (middle, 1), (0, 1), (1, 0), (1, 1))]
        lines += ["f 1/1 2/2 3/3 4/4", "f 2/2 5/5 6/6 3/3"]
    return ("\n".join(lines) + "\n").encode()


@pytest.mark.parametrize("changed", ["reference", "donor", "parameter"])
def test_a_kill_and_then_another_plan(changed: str, tmp_path: Path) -> None:
    source = write(tmp_path / "in", {f"kelp.{number:04d}.obj": folded(number) for number in range(1, 41)})
    donor, out = tmp_path / "rest.obj", tmp_path / "beside" / "out"
    out.parent.mkdir()
    words = {
        "reference": ["--only", "recompute-normals:hard=30", "--reference", "{}"],
        "donor": ["--only", f"uv-donor:from={donor}"],
        "parameter": ["--only", "scale:factor={}"],
    }[changed]
    donor.write_bytes(folded(1, 0.5))
    run = fix(source, out, *(word.format(1.5 if changed == "parameter" else 1) for word in words))
    while run.poll() is None and len(list(out.parent.glob(".*/files/*.obj"))) < 8:
        time.sleep(0.001)
    run.kill()
    run.communicate(timeout=60)
    (begun,) = unfinished(out.parent)
    old = (begun / "files" / "kelp.0005.obj").read_bytes()
    donor.write_bytes(folded(1, 0.7))
    for place in (out, tmp_path / "undisturbed"):
        again = meshqc("fix", source, "--output", place, *(word.format(40) for word in words))
        assert again.returncode in (0, 1), again.stderr
    assert digests(out) == digests(tmp_path / "undisturbed")
    assert (out / "kelp.0005.obj").read_bytes() != old
    assert [path.name for path in out.parent.iterdir()] == ["out"]


def write_away(out: Path) -> None:
    for path in sorted(out.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    out.rmdir()


@pytest.mark.parametrize("too_large", ["anything", "journal's head", "manta.0009.obj", "meshqc-receipt.json"])
def test_no_file_may_grow(calm: Calm, tmp_path: Path, too_large: str) -> None:
    """RLIMIT_FSIZE acts like a quota. The receipt is larger than every file that is written before it."""
    out = tmp_path / "out"
    limit = calm.sizes.get(too_large, {"anything": 1, "journal's head": 60}.get(too_large, 0)) - 1
    run = starved(limit, ["fix", str(calm.source), "--output", str(out), *WORDS])
    assert run.returncode == 2
    assert_one_sentence(run.stderr)
    assert "writing failed: File too large" in run.stderr
    assert not out.exists()
    assert_nothing_half_done(calm, out)
    if not list(tmp_path.glob(".*/files/*")):
        assert list(tmp_path.iterdir()) == [], "a folder without anything to resume"
    assert bool(unfinished(tmp_path)) == ("run the same command to resume" in run.stderr)
    assert_completes(calm, out)


def test_a_plan_that_can_not_be_saved_leaves_nothing(calm: Calm, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    words = ["fix", str(calm.source), "--dry-run", "--save", str(plan), *WORDS]
    assert meshqc(*words).returncode == 1  # a dry run on a folder with an error
    before = digests(tmp_path)
    run = starved(300, words)
    assert run.returncode == 2
    assert_one_sentence(run.stderr)
    assert "File too large" in run.stderr
    assert digests(tmp_path) == before


@contextmanager
def mounted(place: Path, *options: str) -> Iterator[Path]:
    place.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", *options, "tmpfs", str(place)], capture_output=True, check=False, timeout=120
    )
    if done.returncode:
        pytest.skip(f"NOT TESTED: no file system can be mounted here ({done.stderr.decode().strip()})")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True, timeout=120)


def test_a_full_disk(calm: Calm, tmp_path: Path) -> None:
    # Only a few files can be created, which can't be known beforehand.
    with mounted(tmp_path / "small", "-o", "size=20m,nr_inodes=12") as small:
        out = small / "out"
        run = meshqc("fix", calm.source, "--output", out, *WORDS)
        assert run.returncode == 2
        assert_one_sentence(run.stderr)
        assert "No space left on device" in run.stderr
        assert "run the same command to resume" in run.stderr
        assert len(list(unfinished(small)[0].glob("files/*.obj"))) > 2
        assert_nothing_half_done(calm, out)
        subprocess.run(["mount", "-o", "remount,nr_inodes=1000", str(small)], check=True, timeout=120)
        assert_completes(calm, out)


@pytest.mark.parametrize("files", range(2, 6))
def test_a_disk_that_is_full_from_the_start_is_left_as_it_was(calm: Calm, tmp_path: Path, files: int) -> None:
    """At least five inodes are needed: the root folder, the hidden folder, the journal, the folder of files, and a
    draft."""
    with mounted(tmp_path / "small", "-o", f"size=20m,nr_inodes={files - 1}") as small:
        run = meshqc("fix", calm.source, "--output", small / "out", *WORDS)
        assert run.returncode == 2
        assert_one_sentence(run.stderr)
        assert "No space left on device" in run.stderr
        assert "resume" not in run.stderr
        assert list(small.iterdir()) == []
        subprocess.run(["mount", "-o", "remount,nr_inodes=1000", str(small)], check=True)
        assert_completes(calm, small / "out")


def test_a_disk_that_is_too_small_is_named_before_anything_is_written(calm: Calm, tmp_path: Path) -> None:
    with mounted(tmp_path / "small", "-o", f"size={sum(calm.sizes.values()) // 2}") as small:
        run = meshqc("fix", calm.source, "--output", small / "out", *WORDS)
        assert run.returncode == 2
        assert_one_sentence(run.stderr)
        assert re.search(r"needs about 0\.0[1-9]\d* MB, but only 0\.0\d+ MB is free", run.stderr)
        assert list(small.iterdir()) == []
        assert digests(calm.source) == calm.before


def test_a_target_that_is_read_only(calm: Calm, tmp_path: Path) -> None:
    with mounted(tmp_path / "sealed") as sealed:
        subprocess.run(["mount", "-o", "remount,ro", str(sealed)], check=True, timeout=120)
        run = meshqc("fix", calm.source, "--output", sealed / "out", *WORDS)
        assert run.returncode == 2
        assert_one_sentence(run.stderr)
        assert "can't be written to (Read-only file system)" in run.stderr
        assert "resumed" not in run.stderr
        assert_nothing_half_done(calm, sealed / "out")
        subprocess.run(["mount", "-o", "remount,rw", str(sealed)], check=True, timeout=120)
        assert_completes(calm, sealed / "out")


def test_a_target_without_permission(calm: Calm, tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("permissions do not bind root; tests/hostile/test_unprivileged.py does it as another user")
    tmp_path.chmod(0o555)
    run = meshqc("fix", calm.source, "--output", tmp_path / "out", *WORDS)
    tmp_path.chmod(0o755)
    assert run.returncode == 2
    assert "can't be written to (Permission denied)" in run.stderr
    assert_completes(calm, tmp_path / "out")


def test_out_inside_the_source_through_a_mount(calm: Calm, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    if subprocess.run(
        ["mount", "--bind", str(calm.source), str(other)], capture_output=True, check=False, timeout=120
    ).returncode:
        pytest.skip("NOT TESTED: no folder can be mounted here")
    try:
        run = meshqc("fix", calm.source, "--output", other / "out", *WORDS)
    finally:
        subprocess.run(["umount", str(other)], check=True, timeout=120)
    assert run.returncode == 2
    assert "which is never written to" in run.stderr
    assert digests(calm.source) == calm.before


def test_two_writers_at_once(calm: Calm, tmp_path: Path) -> None:
    """There are several rounds, because the order of the runs is random."""
    for number in range(3):
        folder = tmp_path / str(number)
        folder.mkdir()
        runs = [fix(calm.source, folder / "out") for _ in range(3)]
        ends = [(run.communicate(timeout=120)[1], run.returncode) for run in runs]
        assert sorted(code for _, code in ends) == [0, 2, 2], ends
        for stderr, code in ends:
            if code:
                assert_one_sentence(stderr)
                assert "another run is writing to this path" in stderr or "already exists" in stderr
        assert digests(folder / "out") == calm.delivered
        assert [path.name for path in folder.iterdir()] == ["out"]
    assert digests(calm.source) == calm.before


def test_a_source_that_changes_while_it_is_written(tmp_path: Path) -> None:
    source = write(tmp_path / "in", shot({4: bare}, range(1, 31)))
    (tmp_path / "to").mkdir()
    out = tmp_path / "to" / "out"
    run = fix(source, out)
    while run.poll() is None and not list((tmp_path / "to").glob(".*.unfinished/files/*1.obj")):
        time.sleep(0.001)
    last = source / "manta.0030.obj"
    last.write_bytes(last.read_bytes().replace(b"# ", b"# later ", 1) + b"# later\n")
    _, stderr = run.communicate(timeout=120)
    assert run.returncode == 2
    assert_one_sentence(stderr)
    assert "manta.0030.obj: changed after it was inspected" in stderr or "the source file changed" in stderr
    assert not out.exists()
    assert meshqc("fix", source, "--output", out, *WORDS).returncode == 0
    assert b"# later" in (out / "manta.0030.obj").read_bytes()
    assert [path.name for path in out.parent.iterdir()] == ["out"]


def test_the_same_input_and_plan_give_the_same_bytes(calm: Calm, tmp_path: Path) -> None:
    """The bytes could depend on a timestamp, on Python's hash seed, on the name of the folder or on the cache."""
    for seed, words in (("1", ()), ("2", ()), ("3", ("--no-cache",))):
        run = meshqc("fix", calm.source, "--output", tmp_path / seed, *WORDS[:2], *words, PYTHONHASHSEED=seed)
        assert run.returncode == 0
        assert digests(tmp_path / seed) == calm.delivered
