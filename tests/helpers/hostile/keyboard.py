"""The terminal UI in a pseudo-terminal of its own: keys, sizes and signals go in, and all that comes out is kept,
held to the few sequences that the face sends, and read by an emulator (pyte)."""

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

PATIENCE = 60.0  # seconds that a busy machine may take
ON_MAIN = "q quit"
"""What only the main screen shows, while nothing is open over it."""
KEYS = {"enter": "\r", "question_mark": "?", "colon": ":", "number_sign": "#"}
"""What a terminal sends for keys that have a name."""

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

# What the face sends: colours and attributes (SGR), the cursor's place (CUP, CUF) and the question after it (DSR 6),
# modes (DECSET, DECRST) and questions after them (DECRQM), the pointer's shape (OSC 22), a title (OSC 2, printable
# ASCII), line ends; ECMA-48 and xterm control sequences, from memory. The keyboard protocol (CSI > u, CSI < u) is
# kitty's; the bell is the alarm's. What a terminal is asked about pixels is listed in inspector/tui/graphics.py; it
# doesn't answer.
_SENT = re.compile(
    rb"\x1b\[[0-9;]*m|\x1b\[\d+(?:;\d+H|C)|\x1b\[6n|\x1b\[\?(?:25|7|1004|1049|2004|2026)[hl]"
    rb"|\x1b\[\?(?:2026|2048)\$p|\x1b\[>\d+u|\x1b\[<u|\x1b\]22;default\x07|\x1b\]2;[ -~]*\x1b\\|\r\n|\x07"
    rb"|\x1b_Gi=3[12],[\w,=]+(?:;AAAA)?\x1b\\|\x1b_Ga=d,d=I,i=32,q=2\x1b\\"
    rb"|\x1b\]1337;Capabilities\x1b\\|\x1b\[16t|\x1b\[c"
)
UNKNOWN = re.compile(rb"\x1b\[[<>]\d*u|\x1b\]22;default\x07|\x1b_[^\x1b]*\x1b\\|\x1b\[16t")
"""Sequences that pyte doesn't know, and would show as text."""


class Keyboard:
    """`meshqc WORDS` on a terminal. place: for cache and state. inline: bytes of frames from which on worker processes
    do the reading. before: lines of Python that are run first."""

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
        """The system tells the program of it: SIGWINCH."""
        ioctl(self._master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.screen.resize(rows, columns)

    def pump(self, seconds: float) -> bool:
        """Take what comes within this time. Whether anything came."""
        came, end = False, time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if not select.select([self._master], [], [], left)[0]:
                break
            piece = os.read(self._master, 1 << 16)
            self.raw += piece
            if self.process.poll() is None:
                os.write(self._master, b"\x1b[1;1R" * piece.count(b"\x1b[6n"))  # as a terminal answers
            came = True
        return came

    def text(self) -> str:
        """The screen as the emulator has it."""
        end = self.raw.rfind(b"\x1b")  # what may be a sequence that is still coming is left for the next time
        end = len(self.raw) if end < self._fed or _SENT.match(self.raw, end) else end
        self._stream.feed(UNKNOWN.sub(b"", self.raw[self._fed : end]))
        self._fed = end
        return "\n".join(row.rstrip() for row in self.screen.display) + "\n"

    def until(self, seen: str) -> str:
        """The screen once it shows the words."""
        end = time.monotonic() + PATIENCE
        while seen not in (text := self.text()):
            assert time.monotonic() < end, f"never seen: {seen}\n{text}"
            assert self.process.poll() is None, f"ended with {self.process.returncode} before {seen}\n{text}"
            self.pump(0.02)
        return text

    def until_gone(self, seen: str) -> None:
        """Until the screen no longer shows the words."""
        end = time.monotonic() + PATIENCE
        while seen in (text := self.text()):
            assert time.monotonic() < end, f"still seen: {seen}\n{text}"
            self.pump(0.02)

    def back_to_main(self) -> None:
        """Out of whatever is open, also by keys that are still to be done, unless one of them has ended the program."""
        end = time.monotonic() + PATIENCE
        self.settle()
        while ON_MAIN not in self.text() and self.process.poll() is None:
            assert time.monotonic() < end, self.text()
            self.press(b"\x1b")
            self.settle()

    def settle(self) -> None:
        """Take what comes until nothing has come for a while, or for two seconds: an animation goes on."""
        end = time.monotonic() + 2.0
        while self.pump(0.15) and time.monotonic() < end:
            pass

    def kill(self, number: signal.Signals) -> None:
        self.process.send_signal(number)

    def hang_up(self) -> None:
        """The terminal goes away, as with a window that is closed or a connection that is lost."""
        os.close(self._slave)
        os.close(self._master)
        self._master = self._slave = -1

    def end(self) -> int:
        """Take all that comes until the program has ended; its exit code. It leaves the terminal as it was, and no
        process behind."""
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
        """Modes as before: the usual screen, the cursor shown, lines wrapped, no reports of focus and pasting, the
        usual keyboard; and the line discipline that was there (POSIX.1-2017, XBD 11)."""
        self.text()
        assert self._fed == len(self.raw), self.raw[self._fed :]
        assert set(self.screen.mode) == self._modes
        assert len(re.findall(rb"\x1b\[>\d+u", self.raw)) == self.raw.count(b"\x1b[<u")
        assert termios.tcgetattr(self._slave) == self._before

    def close(self) -> None:
        """Whatever happened: nothing stays."""
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
    """What was sent beyond the sequences that the face sends, and text: empty where nothing was."""
    rest = _SENT.sub(b"", raw).decode("utf-8", "surrogateescape")
    return "".join(one for one in rest if not one.isprintable()).encode("utf-8", "surrogateescape")


def members(session: int) -> list[str]:
    """Living processes of a session."""
    rows = subprocess.run(
        ["ps", "-s", str(session), "-o", "stat=,args="], capture_output=True, text=True, check=False, timeout=120
    )
    return [row for row in rows.stdout.splitlines() if not row.startswith("Z")]
