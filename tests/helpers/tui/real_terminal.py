"""The terminal UI in a real terminal."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from inspector.sequence.run.collect import INLINE_BYTES
from tests.helpers.command import ROOT

_MAIN = "from inspector.__main__ import main; raise SystemExit(main())"


PATIENCE = 60.0  # seconds until a screen must appear, even on a busy machine


class Terminal:
    """A separate tmux server, with one window of 80x24 cells."""

    def __init__(self, folder: Path) -> None:
        self._socket = folder / "tmux"
        self._cache = folder / "cache"

    def tmux(self, *words: str) -> str:
        command = ["tmux", "-S", str(self._socket), "-f", "/dev/null", *words]
        return subprocess.run(command, capture_output=True, text=True, check=True, timeout=30).stdout

    def open(self, folder: Path, inline: int = INLINE_BYTES) -> None:
        """Run the command on a folder. Worker processes read the frames if the total size of the frames is at least
        `inline` bytes."""
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
        """Return all running Python processes that belong to this terminal, including orphans."""
        tty = self.tmux("display-message", "-p", "#{pane_tty}").strip().removeprefix("/dev/")
        command = ["ps", "-t", tty, "-o", "pid=,stat=,args="]
        rows = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120).stdout.splitlines()
        return [row for row in rows if "python" in row and row.split()[1][0] != "Z"]

    def wait_for(self, words: str) -> str:
        end = time.monotonic() + PATIENCE
        while words not in (screen := self.screen()):
            assert time.monotonic() < end, f"never seen: {words}\n{screen}"
            time.sleep(0.05)
        return screen

    def wait_for_change(self, before: str) -> None:
        end = time.monotonic() + PATIENCE
        while self.screen() == before:
            assert time.monotonic() < end, f"nothing changed\n{before}"
            time.sleep(0.05)


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    one = Terminal(tmp_path)
    yield one
    subprocess.run(["tmux", "-S", str(tmp_path / "tmux"), "kill-server"], capture_output=True, check=False, timeout=120)
