"""Reading files from storage that may stop answering."""

from __future__ import annotations

import os
import threading
import weakref
from io import BytesIO
from pathlib import Path
from queue import Empty, SimpleQueue

from inspector.safe_open import open_place

READ_BYTES = 32_000_000
"""Bytes per read: most frames in one call, and on a slow network (10 MB/s) a sign of progress every few seconds."""

STALL_SECONDS = 30.0
"""Seconds without a byte after which storage counts as stalled. Disks that were asleep take up to ten (common practice,
no source)."""

STALL_AGAIN_SECONDS = 2.0
"""The same limit for the next files while one file is stalled: whether the rest of the folder can be read shows
immediately."""

STALLED_FILES = 8
"""Maximum number of files that may be stalled at the same time; each holds a thread. With more, the whole folder counts
as stalled.
"""


class Stalled(Exception):
    """The storage returned no byte for STALL_SECONDS."""


class PatientReader:
    """Reads files one after the other, in a thread that can be abandoned.

    A call into a network mount whose server is gone doesn't return, and nothing can stop it.
    """

    def __init__(self) -> None:
        self._thread: _Thread | None = None
        self._abandoned: list[_FileReading] = []
        self._ahead: _FileReading | None = None

    def expect(self, path: Path) -> None:
        """Begin to read a file early, if a file was read before: the next `read` of it waits only for the rest of the
        work."""
        if self._thread is not None and self._ahead is None:
            self._ahead = _FileReading(path)
            self._thread.requests.put(self._ahead)

    def read(self, path: Path) -> bytes:
        """The bytes of a regular file.

        While one file is stalled, others get little time, and after a few stalled files none: a folder of thousands of
        frames must come to an end.

        Raises:
            OSError: It can't be read.
            Stalled: The storage stopped answering.
        """
        self._abandoned = [reading for reading in self._abandoned if not reading.is_over]
        if len(self._abandoned) >= STALLED_FILES:
            raise Stalled
        patience = STALL_AGAIN_SECONDS if self._abandoned else STALL_SECONDS
        reading, self._ahead = self._ahead, None
        if reading is None or reading.path != path:
            if reading is not None:  # what nobody waits for must not hold up what follows
                self.close()
            reading = _FileReading(path)
            if self._thread is None:
                try:
                    self._thread = _Thread()
                except RuntimeError:  # a limit on threads: then read in this thread, which can't be abandoned
                    reading.run()
                    return reading.result()
                weakref.finalize(self, self._thread.requests.put, None)
            self._thread.requests.put(reading)
        before, ended = -1, False
        while not ended and reading.pieces > before:
            before = reading.pieces
            ended = reading.wait(patience)
        if not ended:
            self._abandoned.append(reading)
            self.close()
            raise Stalled
        return reading.result()

    def close(self) -> None:
        """End the reading thread; the next read starts a new thread."""
        if self._thread is not None:
            self._thread.requests.put(None)
            self._thread = None
        self._ahead = None


class _Thread(threading.Thread):
    """Carries out the readings that it is given, until it is given None.

    Starting a thread for each file would add a tenth to the time of a small frame.
    """

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.requests: SimpleQueue[_FileReading | None] = SimpleQueue()
        self.start()

    def run(self) -> None:
        while reading := self.requests.get():
            reading.run()
            del reading  # and with it the file's bytes


class _FileReading:
    """One file that is being read.

    Attributes:
        path: The file.
        pieces: The number of pieces read so far.
        is_over: Whether there is a result.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._ended: SimpleQueue[None] = SimpleQueue()
        self._data = b""
        self._error: Exception | None = None
        self.pieces = 0
        self.is_over = False

    def run(self) -> None:
        try:
            self._read()
        except Exception as error:  # for example out of memory: the waiting thread must know
            self._error = error
        self.is_over = True
        self._ended.put(None)

    def wait(self, seconds: float) -> bool:
        """Wait for the end of the reading, at most `seconds`. Returns whether it ended."""
        try:
            self._ended.get(timeout=seconds)
        except Empty:
            return False
        return True

    def _read(self) -> None:
        with os.fdopen(open_place(self.path), "rb", buffering=0) as file:
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
