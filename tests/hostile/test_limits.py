"""Tests of the command with little memory, a low limit on open files, no home folder, no terminal, the C locale, or a
low limit on the size of files.

The command must also work if its process is stopped and continued.
"""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.helpers.command import assert_one_sentence, digests, environment, meshqc
from tests.helpers.sequences import shot, write

MEMORY, OPEN_FILES = 2_000_000 << 10, 32
"""Bytes of address space and number of open files, as set by `ulimit -v 2000000 -n 32`. NumPy's threads alone use about
200 MB of address space."""


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("limits") / "in", shot(numbers=range(1, 9)))


def started(words: list[str | Path], prepare: Callable[[], None], env: dict[str, str]) -> subprocess.Popen[str]:
    """Start a command.

    If `prepare` limits the size of files, `env` must set PYTHONDONTWRITEBYTECODE. Otherwise, Python would keep
    truncated compiled modules.
    """
    return subprocess.Popen(
        [sys.executable, "-m", "inspector", *map(str, words)],
        env=env,
        preexec_fn=prepare,  # noqa: PLW1509 - there are no threads here
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def few() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_NOFILE, (OPEN_FILES, OPEN_FILES))


def bare(folder: Path) -> dict[str, str]:
    kept = environment(LC_ALL="C", LANG="C", XDG_CACHE_HOME=str(folder / "cache"))
    return {name: value for name, value in kept.items() if name not in ("HOME", "TERM", "XDG_STATE_HOME")}


@pytest.mark.parametrize("command", ["fix", pytest.param("check", marks=pytest.mark.slow)])
def test_with_little_of_everything(command: str, source: Path, tmp_path: Path) -> None:
    def words(out: Path) -> list[str | Path]:
        more = ["--output", out, "--with", "scale:factor=2"] if command == "fix" else ["--no-cache"]
        return [command, source, *more]

    run = started(words(tmp_path / "out"), few, bare(tmp_path))
    out, err = run.communicate(timeout=60)
    usual = meshqc(*words(tmp_path / "usual"))
    assert run.returncode == usual.returncode == 0, err
    assert out.replace("/out", "/usual") == usual.stdout
    if command == "fix":
        assert digests(tmp_path / "out") == digests(tmp_path / "usual")


def test_too_few_addresses_for_openusd_are_a_sentence(source: Path, tmp_path: Path) -> None:
    """With too little memory, usd-core would end the process (observed in 26.11 with `ulimit -v 400000`)."""
    pytest.importorskip("pxr")

    def little() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (400_000 << 10, 400_000 << 10))

    run = started(["fix", source, "--output", tmp_path / "out", "--as", "usd"], little, bare(tmp_path))
    _, err = run.communicate(timeout=60)
    assert run.returncode == 2
    assert_one_sentence(err)
    assert "address space" in err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("words", "place"),
    [
        (["demo", "OUT"], "out"),
        pytest.param(["picture", "IN", "--output", "OUT.png"], "out.png", marks=pytest.mark.slow),
        pytest.param(["check", "IN", "--report", "OUT.html"], "out.html", marks=pytest.mark.slow),
    ],
)
def test_where_no_file_may_grow(words: list[str], place: str, source: Path, tmp_path: Path) -> None:
    def small() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (700, 700))

    names = {"IN": str(source), "OUT": str(tmp_path / "out")}
    told = [names.get(word, word.replace("OUT", names["OUT"])) for word in words]
    run = started([*told], small, environment(XDG_CACHE_HOME=str(tmp_path / "cache"), PYTHONDONTWRITEBYTECODE="1"))
    err = run.communicate(timeout=60)[1]
    assert run.returncode == 2
    assert_one_sentence(err)
    assert "File too large" in err
    assert not (tmp_path / place).is_file()
    assert meshqc(*told).returncode == 0, "what is left, if anything, is not in the way"


def test_stopped_and_continued(source: Path, tmp_path: Path) -> None:
    run = started(
        ["fix", source, "--output", tmp_path / "out", "--with", "scale:factor=2"], lambda: None, environment()
    )
    end = time.monotonic() + 60
    while run.poll() is None and time.monotonic() < end:
        os.kill(run.pid, signal.SIGSTOP)
        os.kill(run.pid, signal.SIGCONT)
        time.sleep(0.01)
    assert run.communicate(timeout=60)[1].count("Traceback") == 0
    assert run.returncode == 0
    assert meshqc("verify", tmp_path / "out").returncode == 0
