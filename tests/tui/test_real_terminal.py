"""The whole way in a real terminal, by keyboard alone: open, find, fix, write, verify; and leaving it clean."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from inspector.sequence.run.collect import INLINE_BYTES
from tests.helpers.command import ROOT, digests

pytestmark = pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")
_MAIN = "from inspector.__main__ import main; raise SystemExit(main())"
_PATIENCE = 60.0  # seconds for a screen to come, on a busy machine


class Terminal:
    """A tmux server of its own with one window, 80x24."""

    def __init__(self, folder: Path) -> None:
        self._socket = folder / "tmux"
        self._cache = folder / "cache"

    def tmux(self, *words: str) -> str:
        command = ["tmux", "-S", str(self._socket), "-f", "/dev/null", *words]
        return subprocess.run(command, capture_output=True, text=True, check=True, timeout=30).stdout

    def open(self, folder: Path, inline: int = INLINE_BYTES) -> None:
        """Run the command on a folder. inline: bytes of frames from which on worker processes do the reading."""
        code = f"from inspector.sequence.run import collect; collect.INLINE_BYTES = {inline}; {_MAIN}"
        run = f"{sys.executable} -c '{code}' {folder}; echo exit code $?; exec sleep 600"
        settings = [
            f"PYTHONPATH={ROOT}",
            "LC_ALL=C.UTF-8",
            f"XDG_CACHE_HOME={self._cache}",
            f"XDG_STATE_HOME={self._cache}",
        ]
        environment = [word for setting in settings for word in ("-e", setting)]
        self.tmux("new-session", "-d", "-x", "80", "-y", "24", *environment, run)

    def press(self, *keys: str) -> None:
        self.tmux("send-keys", *keys)

    def screen(self) -> str:
        return self.tmux("capture-pane", "-p")

    def pythons(self) -> list[str]:
        """All living Python processes that belong to this terminal, orphans too."""
        tty = self.tmux("display-message", "-p", "#{pane_tty}").strip().removeprefix("/dev/")
        command = ["ps", "-t", tty, "-o", "pid=,stat=,args="]
        rows = subprocess.run(command, capture_output=True, text=True, check=False).stdout.splitlines()
        return [row for row in rows if "python" in row and row.split()[1][0] != "Z"]

    def wait_for(self, words: str) -> str:
        """The screen once it shows the words."""
        end = time.monotonic() + _PATIENCE
        while words not in (screen := self.screen()):
            assert time.monotonic() < end, f"never seen: {words}\n{screen}"
            time.sleep(0.05)
        return screen

    def wait_for_change(self, before: str) -> None:
        end = time.monotonic() + _PATIENCE
        while self.screen() == before:
            assert time.monotonic() < end, f"nothing changed\n{before}"
            time.sleep(0.05)


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    one = Terminal(tmp_path)
    yield one
    subprocess.run(["tmux", "-S", str(tmp_path / "tmux"), "kill-server"], capture_output=True, check=False)


def test_open_find_fix_write_verify(terminal: Terminal, demo: Path, tmp_path: Path) -> None:
    source, out = demo / "manta_broken", tmp_path / "corrected"
    before = digests(source)
    terminal.open(source)
    terminal.wait_for("E 15 errors")
    terminal.press("n", "n", "n", "n", "n")
    terminal.wait_for("1 [ ] Shift UV indices back")
    terminal.press("1")
    terminal.wait_for("1 [x] Shift UV indices back")
    terminal.press("e")
    terminal.wait_for("steps staged")
    terminal.press("w")
    terminal.wait_for("manta_broken_fixed")
    terminal.press("C-u", str(out), "Enter")
    result = terminal.wait_for("written and verified")
    assert "running it again would change nothing" in result
    terminal.press("q")
    terminal.wait_for("steps written")
    terminal.press("q")
    terminal.wait_for("exit code 0")
    assert digests(source) == before
    assert {"HANDOFF.txt", "SHA256SUMS", "meshqc-receipt.json"} <= {path.name for path in out.iterdir()}
    for line in (out / "SHA256SUMS").read_text().splitlines():
        digest, name = line.split("  ", 1)  # the form of sha256sum -c, GNU coreutils manual
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest


def test_look_play_and_come_back(terminal: Terminal, demo: Path) -> None:
    """The viewer and the UV map in a terminal of 256 colours (tmux's own): keys that only a terminal can spoil."""
    terminal.open(demo / "manta")
    terminal.wait_for("nothing found")
    terminal.press("v")
    first = terminal.wait_for("▄")
    terminal.press("S-Left")
    terminal.wait_for_change(first)
    terminal.press("s", "2", "Space")
    terminal.wait_for("playing 8 fps")
    terminal.wait_for("frame 5 ")
    terminal.press("Space", "U")
    terminal.wait_for("2 islands; none mirrored; no overlap")
    terminal.press("q", "q")
    terminal.wait_for("e fix")
    terminal.press("q")
    terminal.wait_for("exit code 0")


def test_keys_that_come_in_one_piece_are_done_in_their_order(terminal: Terminal, demo: Path) -> None:
    terminal.open(demo / "manta")
    terminal.wait_for("nothing found")
    terminal.press("#", "8", "Enter", "d", "2", "+")
    screen = terminal.wait_for("centre by axis")
    assert "frame 8 " in screen
    terminal.wait_for("frames 5-16")
    terminal.press("q")
    terminal.wait_for("─ frame 8 ─")
    terminal.press("q")
    terminal.wait_for("exit code 0")


def test_worker_processes_read_behind_the_screen_and_go_with_it(terminal: Terminal, demo: Path) -> None:
    terminal.open(demo / "manta", inline=0)
    terminal.wait_for("nothing found")
    assert terminal.pythons()
    terminal.press("q")
    terminal.wait_for("exit code 0")
    end = time.monotonic() + _PATIENCE
    while left := [row for row in terminal.pythons() if "exec sleep" not in row]:
        assert time.monotonic() < end, left
        time.sleep(0.05)


@pytest.mark.parametrize(("signal", "code"), [("TERM", 143), ("HUP", 129)])
def test_a_signal_leaves_a_clean_terminal(terminal: Terminal, demo: Path, signal: str, code: int) -> None:
    terminal.open(demo / "manta")
    terminal.wait_for("nothing found")
    assert terminal.tmux("display-message", "-p", "#{alternate_on}").strip() == "1"
    shell = terminal.tmux("display-message", "-p", "#{pane_pid}").strip()
    subprocess.run(["pkill", f"-{signal}", "-P", shell], check=True)
    terminal.wait_for(f"exit code {code}")
    assert terminal.tmux("display-message", "-p", "#{alternate_on}").strip() == "0"
    assert terminal.tmux("display-message", "-p", "#{cursor_flag}").strip() == "1"
