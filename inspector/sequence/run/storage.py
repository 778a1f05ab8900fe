"""The bytes of files, from storage that may stop answering."""

from __future__ import annotations

import os
import threading
from io import BytesIO
from pathlib import Path

from inspector import limits
from inspector.safe_open import open_place


class Stalled(Exception):
    """The storage gave no byte for limits.STALL_SECONDS."""


class PatientReader:
    """Reads files at their places one after the other, each in a thread that can be left behind: a call into a network
    mount whose server went away doesn't come back, and nothing can stop it."""

    def __init__(self) -> None:
        self._left_behind: list[_Reading] = []

    def read(self, path: Path) -> bytes:
        """The bytes of a regular file. Raises OSError as read_place does, and Stalled.

        While a file is stalled, others get little time, and after a few of them none: a folder of thousands of frames
        must come to an end.
        """
        self._left_behind = [reading for reading in self._left_behind if reading.is_alive()]
        if len(self._left_behind) >= limits.STALLED_FILES:
            raise Stalled
        patience = limits.STALL_AGAIN_SECONDS if self._left_behind else limits.STALL_SECONDS
        reading = _Reading(path)
        reading.start()
        before = -1
        while reading.is_alive() and reading.pieces > before:
            before = reading.pieces
            reading.join(patience)
        if reading.is_alive():
            self._left_behind.append(reading)
            raise Stalled
        return reading.result()


class _Reading(threading.Thread):
    """pieces: how many have been read so far."""

    def __init__(self, path: Path) -> None:
        super().__init__(daemon=True)
        self._path = path
        self._data = b""
        self._error: Exception | None = None
        self.pieces = 0

    def run(self) -> None:
        try:
            self._read()
        except Exception as error:  # out of memory, say: whoever waits for the bytes must hear of it
            self._error = error

    def _read(self) -> None:
        with os.fdopen(open_place(self._path), "rb", buffering=0) as file:
            # One byte more than there should be shows that nothing follows; far more would be cleared in vain.
            at_once = min(limits.READ_BYTES, os.fstat(file.fileno()).st_size + 1)
            self._data = file.read(at_once)
            self.pieces += 1
            if len(self._data) < at_once:
                return
            whole = BytesIO(self._data)  # unlike a join of all pieces, it never holds the file twice
            self._data = b""
            whole.seek(0, os.SEEK_END)
            while piece := file.read(limits.READ_BYTES):
                whole.write(piece)
                self.pieces += 1
        self._data = whole.getvalue()

    def result(self) -> bytes:
        if self._error is not None:
            raise self._error
        return self._data
