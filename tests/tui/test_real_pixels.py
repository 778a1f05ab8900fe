"""Tests of the program in a separate process, on a terminal that draws pixels. One test runs the program in tmux."""

from __future__ import annotations

import os
import pty
import select
import shutil
import signal
import struct
import sys
import termios
import time
from collections.abc import Callable, Iterator
from fcntl import ioctl
from pathlib import Path

import pytest

from inspector.tui.graphics import Protocol
from tests.helpers.command import environment
from tests.helpers.tui.pixel_terminal import PixelTerminal

pytestmark = pytest.mark.slow
SIZE = 80, 24
_PATIENCE = 60.0  # seconds


class Program:
    def __init__(self, terminal: PixelTerminal, words: list[str], changes: dict[str, str]) -> None:
        self.terminal = terminal
        self.child, self._master = pty.fork()
        if self.child == 0:
            os.execvpe(words[0], words, environment(TERM="xterm-256color", LC_ALL="C.UTF-8", **changes))
        columns, rows = SIZE
        ioctl(self._master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self._rest = b""

    def press(self, keys: str) -> None:
        os.write(self._master, keys.encode())

    def until(self, happened: Callable[[], object]) -> None:
        end = time.monotonic() + _PATIENCE
        while not happened():
            assert time.monotonic() < end, "\n".join(self.terminal.rows)
            self.take(0.1)

    def take(self, seconds: float) -> bool:
        if not select.select([self._master], [], [], seconds)[0]:
            return True
        try:
            came = os.read(self._master, 1 << 16)
        except OSError:  # raised by Linux once the last process has closed its end
            return False
        data = self._rest + came
        whole = data.rfind(b"\x1b") if data.count(b"\x1b") else len(data)
        # The part after the last escape may be the start of a sequence. Either more follows, or the timeout shows that
        # nothing follows.
        if not select.select([self._master], [], [], 0.05)[0]:
            whole = len(data)
        self._rest = data[whole:]
        self.terminal.feed(data[:whole].decode(errors="ignore"))
        if answers := self.terminal.take_answers():
            os.write(self._master, answers.encode())
        return True

    def end(self) -> int:
        end = time.monotonic() + _PATIENCE
        while self.take(0.1):
            assert time.monotonic() < end
        _, status = os.waitpid(self.child, 0)
        self.child = 0
        return os.waitstatus_to_exitcode(status)

    def close(self) -> None:
        if self.child:
            os.kill(self.child, signal.SIGKILL)
            os.waitpid(self.child, 0)
        os.close(self._master)


@pytest.fixture
def state(tmp_path: Path) -> dict[str, str]:
    return {"XDG_STATE_HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path), "TMUX": "", "NO_COLOR": ""}


@pytest.fixture
def programs() -> Iterator[list[Program]]:
    started: list[Program] = []
    yield started
    for one in started:
        one.close()


def cells_with_a_picture(terminal: PixelTerminal) -> float:
    _, covered = terminal.picture()
    return float(covered.mean()) * SIZE[0] * SIZE[1]


@pytest.mark.parametrize("protocol", list(Protocol))
def test_a_picture_comes_and_goes(
    protocol: Protocol, demo: Path, state: dict[str, str], programs: list[Program]
) -> None:
    terminal = PixelTerminal(*SIZE, {protocol})
    del state["TMUX"], state["NO_COLOR"]
    program = Program(terminal, [sys.executable, "-m", "inspector", str(demo / "manta")], state)
    programs.append(program)
    program.until(lambda: "nothing found" in "".join(terminal.rows))
    program.press("v")
    program.until(lambda: cells_with_a_picture(terminal) > 1400)
    program.press("q")
    program.until(lambda: cells_with_a_picture(terminal) == 0 and "e fix" in "".join(terminal.rows))
    program.press("v")
    program.until(lambda: cells_with_a_picture(terminal) > 1400)
    os.kill(program.child, signal.SIGTERM)
    assert program.end() == 128 + signal.SIGTERM
    assert cells_with_a_picture(terminal) == 0
    assert not terminal.images


@pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")
@pytest.mark.parametrize("passes", [True, False])
def test_through_tmux(passes: bool, demo: Path, state: dict[str, str], programs: list[Program], tmp_path: Path) -> None:
    """tmux lets pixels through only if allow-passthrough is on."""
    settings = tmp_path / "tmux.conf"
    settings.write_text(f"set -g allow-passthrough {'on' if passes else 'off'}\nset -g status off\n")
    terminal = PixelTerminal(*SIZE, {Protocol.KITTY})
    command = f"{sys.executable} -m inspector {demo / 'manta'}"
    del state["TMUX"], state["NO_COLOR"]
    words = ["tmux", "-S", str(tmp_path / "socket"), "-f", str(settings), "new-session", command]
    program = Program(terminal, words, state)
    programs.append(program)
    program.until(lambda: "nothing found" in "".join(terminal.rows))
    program.press("v")
    if passes:
        program.until(lambda: cells_with_a_picture(terminal) > 1400)
    else:
        program.until(lambda: "▄" in "".join(terminal.rows))
        assert cells_with_a_picture(terminal) == 0
    program.press("q")
    program.until(lambda: "e fix" in "".join(terminal.rows))
    assert cells_with_a_picture(terminal) == 0
    program.press("q")
    assert program.end() == 0
    assert not terminal.images
