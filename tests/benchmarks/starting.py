"""Measure the time from the start of the terminal UI to its first screen and to its first findings.

Run by hand: python -m tests.benchmarks.starting FOLDER

The folder is opened without a cache, in a pseudo-terminal of 80 x 24 cells. The program is ended by SIGTERM instead of
a key.

In a folder with many frames, a few frames are checked before the others. In a folder with few frames, all frames are
checked together, and `first look` is listed as not seen.
"""

from __future__ import annotations

import os
import pty
import select
import signal
import struct
import sys
import tempfile
import time
from fcntl import ioctl
from termios import TIOCSWINSZ

MARKS = {
    "first paint": b"meshqc  ",
    "verdict on names": b"file names:",
    "first look": b"first frames:",
    "all checked": b"reference ",
}
LAST = "all checked"
LONGEST = 20.0  # seconds


def main() -> None:
    with tempfile.TemporaryDirectory() as cache:
        start = time.perf_counter()
        child, terminal = pty.fork()
        if child == 0:
            os.environ |= {
                "TERM": "xterm-256color",
                "LC_ALL": "C.UTF-8",
                "XDG_CACHE_HOME": cache,
                "XDG_STATE_HOME": cache,
            }
            os.execv(sys.executable, [sys.executable, "-m", "inspector", *sys.argv[1:]])
        ioctl(terminal, TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        seen = b""
        left = dict(MARKS)
        while LAST in left and time.perf_counter() - start < LONGEST:
            if select.select([terminal], [], [], 0.01)[0]:
                seen += os.read(terminal, 65536)
            for name, mark in list(left.items()):
                if mark in seen:
                    print(f"{name:16} {time.perf_counter() - start:6.2f} s", flush=True)
                    del left[name]
        print("not seen:", ", ".join(left) or "none", f"({len(seen):,} bytes)")
        os.kill(child, signal.SIGTERM)
        os.waitpid(child, 0)


if __name__ == "__main__":
    main()
