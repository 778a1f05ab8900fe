"""The program on a pseudo-terminal, with its output sent through a slow link.

The link is a relay that accepts output immediately, as a remote shell does, and passes on a limited number of bytes per
second to a terminal that answers queries.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import sys
import termios
import time
from pathlib import Path

import pyte

from tests.helpers.command import environment

COLUMNS, ROWS = 80, 24
_PATIENCE = 60.0  # seconds


class SlowTerminal:
    """The terminal at the end of the link.

    Attributes:
        rate: Bytes per second; 0 for no limit.
        held: Maximum number of bytes that the relay holds before it makes the program wait.
        arrived: Number of bytes that have come through.
    """

    def __init__(self, folder: Path, state: Path, *, held: int) -> None:
        self.rate, self.held, self.arrived = 0.0, held, 0
        self._waiting = bytearray()
        self._credit, self._last, self._ending = 0.0, time.monotonic(), False
        self.child, self._terminal = pty.fork()
        if self.child == 0:
            changes = {"TERM": "xterm-256color", "LC_ALL": "C.UTF-8", "XDG_STATE_HOME": str(state)}
            os.execve(sys.executable, [sys.executable, "-m", "inspector", str(folder)], environment(**changes))
        fcntl.ioctl(self._terminal, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        self._screen = pyte.Screen(COLUMNS, ROWS)
        self._screen.write_process_input = self.press
        self._stream = pyte.ByteStream(self._screen)

    @property
    def rows(self) -> list[str]:
        return list(self._screen.display)

    def press(self, keys: str) -> None:
        os.write(self._terminal, keys.encode())

    def answer(self, keys: str, words: str, *, gone: bool = False) -> int:
        """Press keys, wait until the words appear or, with `gone`, disappear, and return how many bytes arrived
        meanwhile."""
        before = self.arrived
        self.press(keys)
        self.until(words, gone=gone)
        return self.arrived - before

    def until(self, words: str, *, gone: bool = False) -> None:
        end = time.monotonic() + _PATIENCE
        while any(words in row for row in self.rows) is gone:
            assert time.monotonic() < end, "\n".join(self.rows)
            self._pass_on()

    def wait(self, seconds: float) -> None:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self._pass_on()

    def _pass_on(self) -> None:
        ready = select.select([self._terminal], [], [], 0.005)[0]
        if ready and len(self._waiting) < self.held:
            self._waiting += self._read(min(1 << 16, self.held - len(self._waiting)))
        elif ready:
            time.sleep(0.005)
        now = time.monotonic()
        grown = self._credit + (now - self._last) * self.rate
        self._credit, self._last = min(grown, 64.0 + self.rate / 10), now
        through = bytes(self._waiting[: int(self._credit) if self.rate else 1 << 16])
        del self._waiting[: len(through)]
        self._credit -= len(through) if self.rate else 0.0
        self.arrived += len(through)
        self._stream.feed(through)

    def _read(self, most: int) -> bytes:
        try:
            return os.read(self._terminal, most)
        except OSError:  # raised by Linux once the last process has closed its end
            assert self._ending, "\n".join(self.rows)
            return b""

    def end(self) -> int:
        self._ending, end = True, time.monotonic() + _PATIENCE
        while (found := os.waitpid(self.child, os.WNOHANG))[0] == 0:
            assert time.monotonic() < end
            self._pass_on()
        self.child = 0
        return os.waitstatus_to_exitcode(found[1])

    def close(self) -> None:
        if self.child:
            os.kill(self.child, signal.SIGKILL)
            os.waitpid(self.child, 0)
        os.close(self._terminal)
