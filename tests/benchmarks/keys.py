"""Measure how long keys wait while 10,000 frames are read, and how many bytes an idle program sends.

Run by hand: python -m tests.benchmarks.keys [FRAMES]

The program runs in a pseudo-terminal. A key is pressed 0.1 s after the previous key was answered. The measured time
begins with the key press, and ends when the output shows the cursor on the next frame. Other load on the machine
affects the time, so the load is printed too.
"""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import statistics
import struct
import sys
import tempfile
import time
from collections.abc import Callable
from fcntl import ioctl
from pathlib import Path
from termios import TIOCSWINSZ

import numpy as np
import pyte

from tests.helpers.hostile.keyboard import UNKNOWN

_BETWEEN, _IDLE = 0.1, 5.0  # seconds
_VERTICES = 600
_COLUMNS, _ROWS = 80, 24
_VERDICT = re.compile("reference [0-9]")  # the top row shows the reference frame when all frames are checked


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "manta"
        write_frames(folder, count)
        child, terminal = opened(folder, place)
        try:
            screen = Screen(terminal)
            screen.until(lambda text: ">     1 " in text)
            waits = []
            for frame in range(2, count):
                screen.pause(_BETWEEN)
                if _VERDICT.search(screen.text):
                    break
                waits.append(screen.wait_for_cursor(frame))
            tell(count, waits)
            screen.pause(2.0)
            before = screen.bytes
            screen.pause(_IDLE)
            print(f"idle: {screen.bytes - before} bytes in {_IDLE:g} s")
        finally:
            os.kill(child, signal.SIGTERM)
            os.waitpid(child, 0)


def tell(count: int, waits: list[float]) -> None:
    ms = sorted(1e3 * wait for wait in waits)
    late = sum(wait > 50.0 for wait in ms)
    print(f"{len(ms)} keys while {count:,} frames were read, load {os.getloadavg()[0]:.1f}")
    print(f"median {statistics.median(ms):.1f} ms, nine of ten under {ms[9 * len(ms) // 10]:.1f}, longest {ms[-1]:.1f}")
    print(f"over 50 ms: {late}")


def write_frames(folder: Path, count: int) -> None:
    folder.mkdir()
    points = np.random.default_rng(1).random((_VERTICES, 3))
    faces = "".join(f"f {at} {at + 1} {at + 2}\n" for at in range(1, _VERTICES - 1))
    for number in range(1, count + 1):
        moved = points + 0.001 * number
        vertices = "".join(f"v {x:.6f} {y:.6f} {z:.6f}\n" for x, y, z in moved.tolist())
        (folder / f"manta.{number:05}.obj").write_text(vertices + faces)


def opened(folder: Path, place: str) -> tuple[int, int]:
    """Open a folder in the terminal UI, in a pseudo-terminal. Return the process's id and the terminal's file
    descriptor."""
    child, terminal = pty.fork()
    if child == 0:
        os.environ |= {"TERM": "xterm-256color", "LC_ALL": "C.UTF-8", "XDG_CACHE_HOME": place, "XDG_STATE_HOME": place}
        os.execv(sys.executable, [sys.executable, "-m", "inspector", str(folder)])
    ioctl(terminal, TIOCSWINSZ, struct.pack("HHHH", _ROWS, _COLUMNS, 0, 0))
    return child, terminal


class Screen:
    def __init__(self, terminal: int) -> None:
        self._terminal = terminal
        self._screen = pyte.Screen(_COLUMNS, _ROWS)
        self._stream = pyte.ByteStream(self._screen)
        self.bytes = 0

    def _take(self, seconds: float) -> None:
        if select.select([self._terminal], [], [], seconds)[0]:
            got = os.read(self._terminal, 1 << 16)
            self.bytes += len(got)
            self._stream.feed(UNKNOWN.sub(b"", got))

    @property
    def text(self) -> str:
        return "\n".join(self._screen.display)

    def until(self, seen: Callable[[str], bool], patience: float = 300.0) -> None:
        end = time.perf_counter() + patience
        while not seen(self.text):
            if time.perf_counter() > end:
                raise TimeoutError(self.text)
            self._take(0.05)

    def pause(self, seconds: float) -> None:
        end = time.perf_counter() + seconds
        while (left := end - time.perf_counter()) > 0:
            self._take(left)

    def wait_for_cursor(self, frame: int) -> float:
        """Press the key that moves the cursor down one line, and return the seconds until the cursor is on `frame`."""
        start = time.perf_counter()
        os.write(self._terminal, b"\x1b[B")
        wanted = re.compile(rf">[^0-9\n]*{frame} ")  # there may be a sign between them that the list continues
        self.until(lambda text: wanted.search(text) is not None, 30.0)
        return time.perf_counter() - start


if __name__ == "__main__":
    main()
