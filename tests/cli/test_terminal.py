"""Tests of output to a terminal, to a pipe and to a full disk."""

from __future__ import annotations

import os
import shlex
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from inspector.cli.exit_codes import guarded
from inspector.errors import Refusal
from tests.helpers.command import environment
from tests.helpers.pseudo_terminal import Terminal


def test_colour_is_only_for_terminals_that_want_it(demo: Path) -> None:
    folder = demo / "kelp_broken"
    for changes, coloured in (({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)):
        terminal = Terminal("check", folder, **changes)
        assert terminal.end() == 1
        assert (b"\x1b[" in terminal.seen) is coloured
        assert b"error" in terminal.seen  # the word is present with and without colour
    never = Terminal("check", folder, "--color", "never")
    never.end()
    assert b"\x1b[" not in never.seen


@pytest.fixture
def long_sequence(tmp_path: Path, demo: Path) -> Path:
    """Return a folder of 3,000 frames, so that a command can be interrupted while it reads them. Consecutive frames
    differ."""
    for number in range(3000):
        os.link(demo / f"manta/manta.{number % 24 + 1:04}.obj", tmp_path / f"manta.{number:05}.obj")
    return tmp_path


def test_progress_is_drawn_on_a_terminal_and_ctrl_c_ends_in_a_sentence(long_sequence: Path) -> None:
    terminal = Terminal("check", long_sequence)
    started = time.monotonic()
    terminal.read_until(b"of 3,000")
    terminal.process.send_signal(signal.SIGINT)
    assert terminal.end() == 2
    seconds = time.monotonic() - started
    assert b"reading manta.#####.obj: " in terminal.seen
    assert b"stopped" in terminal.seen
    assert b"Traceback" not in terminal.seen
    assert terminal.seen.count(b"\rreading") <= 10 * seconds + 1


def redirected(words: str, unbuffered: bool, demo: Path, before: str = "") -> subprocess.CompletedProcess[str]:
    command = f"set -o pipefail; {before} {shlex.quote(sys.executable)} -m inspector {words}"
    settings = environment(PYTHONUNBUFFERED="1" if unbuffered else "")
    return subprocess.run(
        ["bash", "-c", command], env=settings, cwd=demo, capture_output=True, text=True, timeout=60, check=False
    )


UNBUFFERED = pytest.mark.parametrize("unbuffered", [False, True])
READERS = (
    "check manta_broken --json | true",
    "check kelp_broken --format html | head -c 10 >&2",
    "check nowhere 2>&1 | true",
)


@UNBUFFERED
@pytest.mark.parametrize("words", READERS)
def test_a_reader_that_goes_away_is_no_accident(words: str, unbuffered: bool, demo: Path) -> None:
    run = redirected(words, unbuffered, demo)
    assert (run.returncode, run.stderr) == (2, "<!DOCTYPE " if "head" in words else "")


@UNBUFFERED
@pytest.mark.parametrize("words", ["check manta_broken --json", "check manta --format csv", "rules", "--help"])
def test_a_full_disk_is_told_and_is_no_verdict(words: str, unbuffered: bool, demo: Path) -> None:
    """/dev/full refuses every write. Source: full(4) of Linux."""
    run = redirected(f"{words} >/dev/full", unbuffered, demo)
    assert (run.returncode, run.stderr) == (2, "meshqc: No space left on device\n")


@UNBUFFERED
def test_what_fits_on_the_disk_in_part_is_no_verdict(unbuffered: bool, demo: Path) -> None:
    """A limit on the file size simulates a full disk (setrlimit(2), blocks of 1024 bytes)."""
    to = shlex.quote(f"{demo}.json")
    assert redirected(f"check manta --json > {to}", unbuffered, demo).returncode == 0
    run = redirected(f"check manta --json > {to}", unbuffered, demo, before="ulimit -f 4; trap '' XFSZ;")
    assert (run.returncode, run.stderr) == (2, "meshqc: File too large\n")


@UNBUFFERED
@pytest.mark.parametrize("closed", [">&-", "2>&-", "<&- >&- 2>&-"])
def test_streams_that_are_closed_from_the_start(closed: str, unbuffered: bool, demo: Path) -> None:
    """Some render queues start commands with closed streams."""
    for folder, code in (("manta", 0), ("kelp_broken", 1), ("nowhere", 2)):
        assert redirected(f"check {folder} {closed}", unbuffered, demo).returncode == code


def _wrapped() -> RuntimeError:
    """Return the exception that Python before 3.12 raises if Ctrl-C interrupts an import while a class is being
    created."""
    error = RuntimeError("Error calling __set_name__ on 'cached_property' instance")
    error.__cause__ = KeyboardInterrupt()
    return error


def _raise(error: BaseException) -> Callable[[], int]:
    def command() -> int:
        raise error

    return command


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (Refusal("no"), "meshqc: no\n"),
        (KeyboardInterrupt(), "meshqc: stopped; no incomplete output file was left behind\n"),
        (_wrapped(), "meshqc: stopped; no incomplete output file was left behind\n"),
        (PermissionError(13, "Permission denied", "/shots/x\x1b"), "meshqc: /shots/x\\x1b: Permission denied\n"),
    ],
)
def test_every_end_is_a_sentence_and_an_exit_code(
    error: BaseException, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert guarded(_raise(error)) == 2
    assert capsys.readouterr().err == said


def test_a_mistake_of_ours_is_named_with_its_place_and_never_looks_like_findings(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert guarded(_raise(ValueError("odd\x1b"))) == 2
    said = capsys.readouterr().err
    assert "an internal error in meshqc (test_terminal.py:" in said
    assert "ValueError: odd\\x1b" in said
