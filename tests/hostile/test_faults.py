"""Tests of files that change while they are read, of signals at any moment, and of a terminal that disappears."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from inspector.inspection.inspection import inspect_folder
from inspector.sequence.run import storage
from inspector.sequence.run.collect import INLINE_BYTES
from inspector.sequence.run.executors import InlineExecutor
from tests.helpers.command import assert_one_sentence, digests, environment
from tests.helpers.sequences import shot, write
from tests.helpers.tui.real_terminal import Terminal, terminal  # noqa: F401


def grow(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"# more\n")


def cut(path: Path) -> None:
    os.truncate(path, path.stat().st_size // 2)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (Path.unlink, "No such file"),
        (grow, "changed size"),
        (cut, "changed size"),
        (lambda path: path.write_bytes(b""), "changed size"),
        (lambda path: (path.unlink(), path.mkdir()), "not a regular file"),
        (lambda path: (path.unlink(), os.mkfifo(path)), "not a regular file"),
    ],
    ids=["vanishes", "grows", "is cut", "is emptied", "becomes a folder", "becomes a pipe"],
)
def test_a_file_that_changes_between_listing_and_reading(
    change: Callable[[Path], object], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write(tmp_path, shot())
    usual, done = storage.open_place, []

    def opened(place: Path) -> int:
        if place.name == "manta.0007.obj" and not done:
            done.append(change(place))
        return usual(place)

    monkeypatch.setattr(storage, "open_place", opened)
    inspection = inspect_folder(folder, executor=InlineExecutor()).inspections[0]
    assert [float(one.number) for one in inspection.series.facts if not one.readable] == [7]
    findings = [one for one in inspection.findings if one.check in ("unreadable", "still-written")]
    assert said in " ".join(one.message for one in findings), [one.message for one in findings]
    assert all(list(map(float, one.frames)) == [7] for one in findings)


def test_a_folder_in_turmoil(tmp_path: Path) -> None:
    folder = write(tmp_path / "in", shot(numbers=range(1, 61)))
    good = {path: path.read_bytes() for path in folder.glob("*.obj")}
    over, chance = threading.Event(), random.Random(10)

    def disturb() -> None:
        while not over.wait(0.001):
            path = chance.choice(list(good))
            data = chance.choice((None, good[path], good[path][:700], good[path] * 2))
            if data is None:
                path.unlink(missing_ok=True)
            else:
                path.write_bytes(data)

    thread = threading.Thread(target=disturb)
    thread.start()
    try:
        for inline in (0, INLINE_BYTES, 0):
            run = started(inline, "check", folder, "--json", "--no-cache")
            out, err = run.communicate(timeout=120)
            assert out.startswith("{")
            assert "Traceback" not in err
            assert run.returncode in (0, 1, 2), err
            if run.returncode == 2:  # a check read a frame again, and the frame had changed
                assert_one_sentence(err)
                assert "(manta." in err, "it names the file"
    finally:
        over.set()
        thread.join(60)
    for path, data in good.items():
        path.write_bytes(data)
    assert ended(started(INLINE_BYTES, "check", folder, "--no-cache")) == 0


def started(inline: int, *words: str | Path) -> subprocess.Popen[str]:
    """Start a command. Worker processes read the frames if the total size of the frames is at least `inline` bytes."""
    code = f"from inspector.sequence.run import collect; collect.INLINE_BYTES = {inline}; " + (
        "from inspector.__main__ import main; raise SystemExit(main())"
    )
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, words)],
        env=environment(PYTHONWARNINGS=""),  # an import that Ctrl-C interrupts may leave a file open
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def ended(run: subprocess.Popen[str]) -> int:
    run.communicate(timeout=120)
    return run.returncode


def members(group: int) -> list[str]:
    """Return the status and the command line of each running process of a session."""
    rows = subprocess.run(
        ["ps", "-s", str(group), "-o", "stat=,args="], capture_output=True, text=True, check=False, timeout=120
    )
    return [row for row in rows.stdout.splitlines() if not row.startswith("Z")]


@pytest.mark.parametrize(
    ("number", "command"),
    [
        (signal.SIGINT, "fix"),
        (signal.SIGHUP, "check"),
        pytest.param(signal.SIGINT, "check", marks=pytest.mark.slow),
        pytest.param(signal.SIGTERM, "check", marks=pytest.mark.slow),
        pytest.param(signal.SIGTERM, "fix", marks=pytest.mark.slow),
        pytest.param(signal.SIGHUP, "fix", marks=pytest.mark.slow),
    ],
)
def test_a_signal_at_any_moment(command: str, number: signal.Signals, tmp_path: Path) -> None:
    """All processes of the command receive the signal, as if Ctrl-C were pressed or the terminal were lost."""
    folder = write(tmp_path / "in", shot(numbers=range(1, 31)))
    before, out = digests(folder), tmp_path / "out"
    words = ("check", folder) if command == "check" else ("fix", folder, "--output", out, "--with", "scale:factor=2")
    start = time.monotonic()
    assert ended(started(0, *words)) == 0
    whole, chance = time.monotonic() - start, random.Random(command)
    delivered = digests(out) if out.exists() else {}
    for at in range(5):
        if out.exists():
            out.rename(tmp_path / f"done {at}")
        run = started(0, *words)
        time.sleep(chance.uniform(0.1, 1.0) * whole)
        os.killpg(run.pid, number)
        err = run.communicate(timeout=60)[1]
        assert run.returncode in (0, 2, -number), err
        assert "Traceback" not in err or "inspector/" not in err, err  # unless the signal came before our code ran
        end = time.monotonic() + 20
        while left := members(run.pid):
            assert time.monotonic() < end, left
            time.sleep(0.05)
        assert digests(folder) == before
        assert not out.exists() or digests(out) == delivered
    if out.exists():  # the last run may have been stopped after its last step, but before it removed its files
        out.rename(tmp_path / "done")
    assert ended(started(0, *words)) == 0
    assert not out.exists() or digests(out) == delivered
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_a_terminal_that_goes_away_takes_all_with_it(terminal: Terminal, demo: Path) -> None:  # noqa: F811
    terminal.open(demo / "manta_broken", inline=0)
    terminal.wait_for("E 15 errors")
    session = terminal.tmux("display-message", "-p", "#{pane_pid}").strip()
    assert len(members(int(session))) > 1
    terminal.tmux("kill-server")
    end = time.monotonic() + 60
    while left := [row for row in members(int(session)) if "python" in row]:
        assert time.monotonic() < end, left
        time.sleep(0.1)


def test_the_state_survives_a_kill_while_it_is_written(tmp_path: Path) -> None:
    folder = write(tmp_path / "in", shot(numbers=range(1, 61)))
    cache = {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    words = [sys.executable, "-m", "inspector", "check", str(folder), "--json"]
    chance = random.Random(3)
    for _ in range(10):
        run = subprocess.Popen(words, env=environment(**cache), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(chance.uniform(0.2, 1.2))
        run.kill()
        run.wait(timeout=60)
    after = subprocess.run(words, env=environment(**cache), capture_output=True, check=True, timeout=120).stdout
    assert (
        after
        == subprocess.run(
            [*words, "--no-cache"], env=environment(), capture_output=True, check=True, timeout=120
        ).stdout
    )
