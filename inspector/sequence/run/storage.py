"""The bytes of files, from storage that may stop answering."""

from __future__ import annotations

import os
import threading
import weakref
from io import BytesIO
from pathlib import Path
from queue import Empty, SimpleQueue

from inspector.safe_open import open_place

READ_BYTES = 32_000_000
"""Bytes read at once: most frames in one call, and on a slow network (10 MB/s) a sign of life every few seconds."""

STALL_SECONDS = 30.0
"""Seconds without a byte after which storage counts as stalled. Disks that were asleep take up to ten (common practice,
no source)."""

STALL_AGAIN_SECONDS = 2.0
"""The same for the next files, while one is stalled: whether the rest of the folder can be read shows at once."""

STALLED_FILES = 8
"""Files that may be stalled at the same time; each holds a thread. From then on the whole folder counts as stalled."""


class Stalled(Exception):
    """The storage gave no byte for STALL_SECONDS."""


class PatientReader:
    """Reads files at their places one after the other, in a thread that can be left behind: a call into a network mount
    whose server went away doesn't come back, and nothing can stop it."""

    def __init__(self) -> None:
        self._thread: _Thread | None = None
        self._left_behind: list[_Reading] = []

    def read(self, path: Path) -> bytes:
        """The bytes of a regular file. Raises OSError as read_place does, and Stalled.

        While a file is stalled, others get little time, and after a few of them none: a folder of thousands of frames
        must come to an end.
        """
        self._left_behind = [reading for reading in self._left_behind if not reading.is_over]
        if len(self._left_behind) >= STALLED_FILES:
            raise Stalled
        patience = STALL_AGAIN_SECONDS if self._left_behind else STALL_SECONDS
        reading = _Reading(path)
        if self._thread is None:
            try:
                self._thread = _Thread()
            except RuntimeError:  # a limit on threads: then read without the means to leave it behind
                reading.run()
                return reading.result()
            weakref.finalize(self, self._thread.requests.put, None)
        self._thread.requests.put(reading)
        before, ended = -1, False
        while not ended and reading.pieces > before:
            before = reading.pieces
            ended = self._thread.wait(patience)
        if not ended:
            self._left_behind.append(reading)
            self._thread.requests.put(None)
            self._thread = None
            raise Stalled
        return reading.result()

    def close(self) -> None:
        """End the reading thread; a further read starts another."""
        if self._thread is not None:
            self._thread.requests.put(None)
            self._thread = None


class _Thread(threading.Thread):
    """Does the readings that it is given until it is given None. A start for each file would cost a small frame a tenth
    of its time."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.requests: SimpleQueue[_Reading | None] = SimpleQueue()
        self._ended: SimpleQueue[None] = SimpleQueue()
        self.start()

    def run(self) -> None:
        while reading := self.requests.get():
            reading.run()
            del reading  # and with it the file's bytes
            self._ended.put(None)

    def wait(self, seconds: float) -> bool:
        """Wait for the end of the reading, but not longer than that; whether it came. It comes once per reading."""
        try:
            self._ended.get(timeout=seconds)
        except Empty:
            return False
        return True


class _Reading:
    """pieces: how many have been read so far. is_over: whether there is a result."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._data = b""
        self._error: Exception | None = None
        self.pieces = 0
        self.is_over = False

    def run(self) -> None:
        try:
            self._read()
        except Exception as error:  # out of memory, say: whoever waits for the bytes must hear of it
            self._error = error
        self.is_over = True

    def _read(self) -> None:
        with os.fdopen(open_place(self._path), "rb", buffering=0) as file:
            # One byte more than there should be shows that nothing follows; far more would be cleared in vain.
            at_once = min(READ_BYTES, os.fstat(file.fileno()).st_size + 1)
            self._data = file.read(at_once)
            self.pieces += 1
            if len(self._data) < at_once:
                return
            whole = BytesIO(self._data)  # unlike a join of all pieces, it never holds the file twice
            self._data = b""
            whole.seek(0, os.SEEK_END)
            while piece := file.read(READ_BYTES):
                whole.write(piece)
                self.pieces += 1
        self._data = whole.getvalue()

    def result(self) -> bytes:
        if self._error is not None:
            raise self._error
        return self._data
