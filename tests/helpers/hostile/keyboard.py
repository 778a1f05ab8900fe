"""The terminal UI in a pseudo-terminal of its own.

An emulator (pyte) reads the output, which may contain only the few control sequences that the terminal UI uses.
"""

from __future__ import annotations

import os
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from fcntl import ioctl
from pathlib import Path

import pyte

from inspector.sequence.run.collect import INLINE_BYTES
from tests.helpers.command import environment

PATIENCE = 60.0  # maximum number of seconds that a busy machine may take
ON_MAIN = "q quit"
"""Words that only the main screen shows, and only if nothing is open over it."""
KEYS = {"enter": "\r", "question_mark": "?", "colon": ":", "number_sign": "#"}

_CODE = """
import fcntl, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
from inspector.inspection import arrivals
from inspector.sequence.run import collect, watch
collect.INLINE_BYTES, watch.WATCH_SECONDS, arrivals.WATCH_SURE_SECONDS = {inline}, (0.05, 0.05), 0.1
{before}
from inspector.__main__ import main
raise SystemExit(main())
"""

# The control sequences that the terminal UI sends. ECMA-48 and xterm sequences, from memory: colours and attributes
# (SGR), the position of the cursor (CUP, CUF) and the query for it (DSR 6), modes (DECSET, DECRST) and queries for them
# (DECRQM), the shape of the pointer (OSC 22), a title (OSC 2, printable ASCII), and line endings. The keyboard protocol
# (CSI > u, CSI < u) is kitty's. The bell is the alarm. inspector/tui/graphics.py lists the queries about pixels, which
# this terminal doesn't answer.
_SENT = re.compile(
    rb"\x1b\[[0-9;]*m|\x1b\[\d+(?:;\d+H|C)|\x1b\[6n|\x1b\[\?(?:25|7|1004|1049|2004|2026)[hl]"
    rb"|\x1b\[\?(?:2026|2048)\$p|\x1b\[>\d+u|\x1b\[<u|\x1b\]22;default\x07|\x1b\]2;[ -~]*\x1b\\|\r\n|\x07"
    rb"|\x1b_Gi=3[12],[\w,=]+(?:;AAAA)?\x1b\\|\x1b_Ga=d,d=I,i=32,q=2\x1b\\"
    rb"|\x1b\]1337;Capabilities\x1b\\|\x1b\[16t|\x1b\[c"
)
UNKNOWN = re.compile(rb"\x1b\[[<>]\d*u|\x1b\]22;default\x07|\x1b_[^\x1b]*\x1b\\|\x1b\[16t")
"""Sequences that pyte doesn't know and would show as text."""


class Keyboard:
    """`meshqc WORDS` on a terminal.

    Args:
        *words: The words of the command line.
        place: The folder for cache and state.
        inline: Worker processes read the frames if the total size of the frames is at least this number of bytes.
        size: Columns and rows of the terminal.
        before: Lines of Python to run before the command.
        **changes: Environment variables to set.
    """

    def __init__(
        self,
        *words: str | Path,
        place: Path,
        inline: int = INLINE_BYTES,
        size: tuple[int, int] = (80, 24),
        before: str = "",
        **changes: str,
    ) -> None:
        self._master, self._slave = os.openpty()
        self.screen = pyte.Screen(*size)
        self._modes = set(self.screen.mode)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        self._fed = 0
        self.resize(*size)
        self._before = termios.tcgetattr(self._slave)
        settings = {"XDG_CACHE_HOME": str(place), "XDG_STATE_HOME": str(place), "TERM": "xterm-256color"}
        self.process = subprocess.Popen(
            [sys.executable, "-c", _CODE.format(inline=inline, before=before), *map(os.fspath, words)],
            stdin=self._slave,
            stdout=self._slave,
            stderr=self._slave,
            start_new_session=True,
            env=environment(PYTHONWARNINGS="", **settings, **changes),
        )

    def press(self, keys: bytes) -> None:
        os.write(self._master, keys)

    def resize(self, columns: int, rows: int) -> None:
        ioctl(self._master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.screen.resize(rows, columns)

    def pump(self, seconds: float) -> bool:
        """Read output for this number of seconds. Return whether there was any."""
        came, end = False, time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if not select.select([self._master], [], [], left)[0]:
                break
            piece = os.read(self._master, 1 << 16)
            self.raw += piece
            if self.process.poll() is None:
                os.write(self._master, b"\x1b[1;1R" * piece.count(b"\x1b[6n"))  # answer as a terminal does
            came = True
        return came

    def text(self) -> str:
        end = self.raw.rfind(b"\x1b")  # the last sequence may be incomplete: leave it for the next call
        end = len(self.raw) if end < self._fed or _SENT.match(self.raw, end) else end
        self._stream.feed(UNKNOWN.sub(b"", self.raw[self._fed : end]))
        self._fed = end
        return "\n".join(row.rstrip() for row in self.screen.display) + "\n"

    def until(self, seen: str) -> str:
        end = time.monotonic() + PATIENCE
        while seen not in (text := self.text()):
            assert time.monotonic() < end, f"never seen: {seen}\n{text}"
            assert self.process.poll() is None, f"ended with {self.process.returncode} before {seen}\n{text}"
            self.pump(0.02)
        return text

    def until_gone(self, seen: str) -> None:
        end = time.monotonic() + PATIENCE
        while seen in (text := self.text()):
            assert time.monotonic() < end, f"still seen: {seen}\n{text}"
            self.pump(0.02)

    def back_to_main(self) -> None:
        """Press Esc repeatedly, until the main screen is shown or the program ends."""
        end = time.monotonic() + PATIENCE
        self.settle()
        while ON_MAIN not in self.text() and self.process.poll() is None:
            assert time.monotonic() < end, self.text()
            self.press(b"\x1b")
            self.settle()

    def settle(self) -> None:
        """Read output until there is none for 0.15 s. During an animation, stop after two seconds."""
        end = time.monotonic() + 2.0
        while self.pump(0.15) and time.monotonic() < end:
            pass

    def kill(self, number: signal.Signals) -> None:
        self.process.send_signal(number)

    def hang_up(self) -> None:
        """Close the terminal, as when a window is closed or a connection is lost."""
        os.close(self._slave)
        os.close(self._master)
        self._master = self._slave = -1

    def end(self) -> int:
        """Read output until the program ends. Check that no process of its session is left, and return the exit
        code."""
        end = time.monotonic() + PATIENCE
        while self.process.poll() is None:
            assert time.monotonic() < end, f"it doesn't end\n{'' if self._master < 0 else self.text()}"
            if self._master < 0:
                time.sleep(0.02)
            else:
                self.pump(0.02)
        if self._master >= 0:
            self.pump(0.01)
        while left := members(self.process.pid):
            assert time.monotonic() < end, left
            time.sleep(0.02)
        return self.process.returncode

    def assert_clean(self) -> None:
        """Check that the modes, the keyboard protocol and the terminal settings were restored (POSIX.1-2017, XBD
        11)."""
        self.text()
        assert self._fed == len(self.raw), self.raw[self._fed :]
        assert set(self.screen.mode) == self._modes
        assert len(re.findall(rb"\x1b\[>\d+u", self.raw)) == self.raw.count(b"\x1b[<u")
        assert termios.tcgetattr(self._slave) == self._before

    def close(self) -> None:
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(timeout=60)
        if self._master >= 0:
            self.hang_up()

    def __enter__(self) -> Keyboard:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()


def foreign(raw: bytes) -> bytes:
    """Remove known control sequences and printable text from the output, and return what remains."""
    rest = _SENT.sub(b"", raw).decode("utf-8", "surrogateescape")
    return "".join(one for one in rest if not one.isprintable()).encode("utf-8", "surrogateescape")


def members(session: int) -> list[str]:
    """Return the status and the command line of each running process of a session."""
    rows = subprocess.run(
        ["ps", "-s", str(session), "-o", "stat=,args="], capture_output=True, text=True, check=False, timeout=120
    )
    return [row for row in rows.stdout.splitlines() if not row.startswith("Z")]
