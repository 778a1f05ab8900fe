"""The bytes of files, from storage that may stop answering."""

from __future__ import annotations

import errno
import os
import stat
import threading
from io import BytesIO
from pathlib import Path

from inspector import limits


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


def read_file(path: Path) -> bytes:
    """The bytes of a regular file that the user named, or of ours. Raises OSError; a FIFO or device is refused without
    waiting for it."""
    return read_place(Path(os.path.realpath(path)))


def read_place(place: Path) -> bytes:
    """The bytes of a regular file at a path that was judged with all its links resolved. Raises OSError.

    No link is followed any more: what takes a part's name between the judgement and now leads nowhere.
    """
    with os.fdopen(open_place(place), "rb", buffering=0) as file:
        return file.read()


def open_place(place: Path) -> int:
    """A descriptor for reading, opened as read_place says. Raises OSError."""
    try:
        descriptor = _opened(place)
    except OSError as error:
        if error.errno == errno.ELOOP:
            raise OSError(errno.ELOOP, "a link that took the file's place; it is not followed") from error
        raise
    status = os.fstat(descriptor)
    regular = stat.S_ISREG(status.st_mode)
    if not regular or status.st_size > limits.FRAME_BYTES:
        os.close(descriptor)
        raise OSError(0, f"larger than {limits.FRAME_BYTES:,} bytes" if regular else "not a regular file")
    return descriptor


def _opened(place: Path) -> int:
    """Folder by folder from the root, so that no part is a link. Where the system can't do that (no O_PATH: Linux has
    it), only the last part is held to it."""
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
    if not hasattr(os, "O_PATH"):
        return os.open(place, flags)
    passing = os.O_PATH | os.O_DIRECTORY
    folder = os.open(place.anchor, passing)
    try:
        for part in place.parts[1:-1]:
            above, folder = folder, os.open(part, passing | os.O_NOFOLLOW, dir_fd=folder)
            os.close(above)
        return os.open(place.name, flags, dir_fd=folder)
    finally:
        os.close(folder)
