"""Tests of commands that share a cache and are killed by SIGKILL at random moments."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from tests.helpers.alembic import SQUARE, add_mesh, archive_bytes
from tests.helpers.command import digests, environment, meshqc
from tests.helpers.sequences import shot, write

KILLS = 12

QUIET = ("merge", "watch")
"""Commands that write nothing, or only a page, which they write in a single step."""


@dataclass(frozen=True, slots=True)
class Shot:
    """A shot, and the files that the commands need.

    `archive` is an animation, and `parts` are two measured parts of the source.
    """

    source: Path
    archive: Path
    delivered: Path
    parts: tuple[Path, Path]

    def words(self, command: str, out: Path) -> list[str]:
        """Return the words of the command line. A command that writes anything writes to `out` or beside it."""
        words: dict[str, list[str | Path]] = {
            "fix": [self.source, "--output", out, "--with", "scale:factor=2"],
            "unpack": [self.archive, out],
            "pack": [self.delivered, "--output", out],
            "merge": [self.source, *self.parts, "--report", out.with_name("page.html")],
            "watch": [self.source],
        }
        return [command, *map(str, words[command])]


@pytest.fixture(scope="module")
def all_kinds(tmp_path_factory: pytest.TempPathFactory) -> Shot:
    folder = tmp_path_factory.mktemp("kills")
    source, archive = write(folder / "in", shot(numbers=range(1, 31))), folder / "kelp.abc"
    points = [np.add(SQUARE, number) for number in range(30)]
    archive.write_bytes(archive_bytes(lambda writer: add_mesh(writer.top, points=points)))
    assert meshqc("fix", source, "--output", folder / "delivered", "--with", "scale:factor=2").returncode == 0
    parts = []
    for number in (1, 2):
        path = folder / f"part{number}.json"
        path.write_text(meshqc("check", source, "--part", f"{number}/2", "--no-cache").stdout)
        parts.append(path)
    return Shot(source, archive, folder / "delivered", (parts[0], parts[1]))


def half_done(place: Path) -> list[str]:
    """Return the names of the files that a command keeps beside OUT while it writes."""
    return [path.name for path in place.iterdir() if path.name.startswith(".")]


def writes(place: Path, since: float) -> bool:
    """Return whether an incomplete file was changed after the time `since` (in seconds since 1970)."""
    with suppress(OSError):  # the file may have been removed
        tops = [place / name for name in half_done(place)]
        return any(path.stat().st_mtime > since for top in tops for path in (top, *top.rglob("*")))
    return False


@pytest.mark.slow
@pytest.mark.parametrize("command", ["fix", "unpack", "pack", "merge", "watch"])
def test_a_kill_at_any_moment(command: str, all_kinds: Shot, tmp_path: Path) -> None:
    before = digests(all_kinds.source)
    place = tmp_path / "beside"
    place.mkdir()
    out = place / ("out.zip" if command == "pack" else "out")
    words = all_kinds.words(command, out)
    own = environment(XDG_CACHE_HOME=str(tmp_path / "cache"))
    start = time.monotonic()
    if command == "watch":  # only a signal ends it
        whole = 3.0
    else:
        assert (
            subprocess.run([sys.executable, "-m", "inspector", *words], env=own, check=False, timeout=120).returncode
            == 0
        )
        whole = time.monotonic() - start
    expected = digests(place)
    chance, killed, amid = random.Random(command), 0, 0
    for number in range(KILLS):
        if expected and not half_done(place):
            place.rename(tmp_path / f"done {number}")
            place.mkdir()
        since = time.time()
        run = subprocess.Popen(
            [sys.executable, "-m", "inspector", *words],
            env=own,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        if number % 2 == 0 or command in QUIET:
            time.sleep(chance.uniform(0.2, 0.8) * whole)
        else:  # writing is only a small part of packing, so random moments could all miss it
            while run.poll() is None and not writes(place, since):
                time.sleep(0.002)
            time.sleep(chance.uniform(0.0, 0.02) * whole)
        run.kill()
        killed += run.wait(60) == -signal.SIGKILL
        amid += bool(half_done(place))
        there = {name: digest for name, digest in digests(place).items() if not name.startswith(".")}
        assert there in ({}, expected)
        assert digests(all_kinds.source) == before
    assert killed > KILLS // 4
    assert amid or command in QUIET, "none while it was written"
    if out.exists() or (command == "merge" and any(place.iterdir())):
        place.rename(tmp_path / "done")
        place.mkdir()
    if command == "watch":
        quiet = meshqc("check", all_kinds.source, "--json", "--no-cache").stdout
        assert meshqc("check", all_kinds.source, "--json", XDG_CACHE_HOME=own["XDG_CACHE_HOME"]).stdout == quiet
    else:
        assert meshqc(*words, XDG_CACHE_HOME=own["XDG_CACHE_HOME"]).returncode == 0
        assert digests(place) == expected
    assert half_done(place) == []
