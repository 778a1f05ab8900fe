"""A command on a pseudo-terminal of its own."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

from tests.helpers.command import environment


class Terminal:
    """`python -m inspector WORDS` with stdout and stderr on a pseudo-terminal."""

    def __init__(self, *words: str | Path, **changes: str) -> None:
        self._master, slave = pty.openpty()
        command = [sys.executable, "-m", "inspector", *map(str, words)]
        self.process = subprocess.Popen(
            command, env=environment(**changes), stdin=subprocess.DEVNULL, stdout=slave, stderr=slave
        )
        os.close(slave)
        self.seen = b""

    def read_until(self, word: bytes | None = None) -> bytes:
        """Read until the output contains `word`, or until the process ends. Return all output so far."""
        while word is None or word not in self.seen:
            try:
                piece = os.read(self._master, 4096)
            except OSError:  # raised by Linux once the last process has closed its end
                piece = b""
            if not piece:
                break
            self.seen += piece
        return self.seen

    def end(self) -> int:
        self.read_until()
        os.close(self._master)
        return self.process.wait(timeout=60)
