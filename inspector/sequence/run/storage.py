"""Read files from storage that may stop answering."""

from __future__ import annotations

import contextlib
import os
import threading
import weakref
from io import BytesIO
from pathlib import Path
from queue import Empty, SimpleQueue

from inspector.formats.problems import UnreadableFrame
from inspector.safe_open import open_place

READ_BYTES = 32_000_000
"""Maximum size of a file that is read completely, in bytes. A larger file is read in slices, on request."""

PIECE_BYTES = 4_000_000
"""Maximum number of bytes per read. A slow network must deliver this many bytes within STALL_SECONDS: 0.13 MB per
second. Smaller pieces would take noticeably more time on a fast disk."""

STALL_SECONDS = 30.0
"""A file counts as stalled if no read of the file ends within this number of seconds (common practice, no source)."""

STALL_AGAIN_SECONDS = 2.0
"""The number of seconds that replaces STALL_SECONDS while another file is stalled."""

STALLED_FILES = 8
"""If at least this many files are stalled at the same time, the whole folder counts as stalled. Each stalled file
blocks a thread."""


class Stalled(Exception):
    """The storage stopped answering."""


class PatientReader:
    """Reads files one after the other, in a thread that can be abandoned.

    A read from a network mount whose server is gone doesn't return, and nothing can stop it.
    """

    def __init__(self) -> None:
        self._thread: _Thread | None = None
        self._abandoned: list[_Job] = []
        self._ahead: _FileReading | None = None

    def expect(self, path: Path) -> None:
        """Start reading a file before it is requested, if the reading thread exists and no other file is expected.

        If the next call of `open` requests this file, that call waits only for the rest of the reading.
        """
        if self._thread is not None and self._ahead is None:
            self._ahead = _FileReading(path)
            self._thread.requests.put(self._ahead)

    def read(self, path: Path) -> bytes:
        """Read a regular file completely; see `open`."""
        return self.open(path)[:]

    def open(self, path: Path) -> bytes | PatientFile:
        """Read a regular file. If it is larger than READ_BYTES, only open it, and return an object that reads slices on
        request.

        While a file is stalled, other files get less time. If STALLED_FILES files are stalled, other files aren't read
        at all.

        Raises:
            OSError: The file can't be read.
            Stalled: The storage stopped answering, or STALLED_FILES files are stalled.
        """
        ahead, self._ahead = self._ahead, None
        if ahead is not None and ahead.path != path:  # a file that isn't needed must not delay the requested file
            self.close()
            ahead = None
        job = ahead or _FileReading(path)
        self.run(job, begun=ahead is not None)
        return PatientFile(self, job.file) if job.file is not None else job.data

    def run(self, job: _Job, begun: bool = False) -> None:
        """Run a job in the thread, and wait until it ends.

        Raises:
            OSError: The file can't be read.
            Stalled: The storage stopped answering, or STALLED_FILES files are stalled.
        """
        self._abandoned = [other for other in self._abandoned if not other.is_over]
        if len(self._abandoned) >= STALLED_FILES:
            raise Stalled
        patience = STALL_AGAIN_SECONDS if self._abandoned else STALL_SECONDS
        if not begun:
            if self._thread is None:
                try:
                    self._thread = _Thread()
                except RuntimeError:  # a limit on threads: read in this thread, which can't be abandoned
                    job.run()
                    job.raise_error()
                    return
                weakref.finalize(self, self._thread.requests.put, None)
            self._thread.requests.put(job)
        before, ended = -1, False
        while not ended and job.pieces > before:
            before = job.pieces
            ended = job.wait(patience)
        if not ended:
            self._abandoned.append(job)
            self.close()
            raise Stalled
        job.raise_error()

    def close(self) -> None:
        """End the reading thread. The next read starts a new thread."""
        if self._thread is not None:
            self._thread.requests.put(None)
            self._thread = None
        self._ahead = None


class PatientFile:
    """A large file whose slices are read on request. The time limits for reading a whole file also apply to each
    slice."""

    def __init__(self, reader: PatientReader, file: _OpenFile) -> None:
        self._reader, self._file = reader, file

    def __len__(self) -> int:
        return self._file.state[0]

    def __getitem__(self, part: slice, /) -> bytes:
        """Read the bytes of a slice without a step.

        Raises:
            OSError: The bytes can't be read.
            Stalled: The storage stopped answering.
            UnreadableFrame: The file has changed since it was opened.
        """
        start, stop, _ = part.indices(len(self))
        job = _SliceReading(self._file, start, stop)
        self._reader.run(job)
        if job.changed:
            raise UnreadableFrame("still-written")
        return job.data


class _Thread(threading.Thread):
    """A thread that runs jobs until it receives None."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.requests: SimpleQueue[_Job | None] = SimpleQueue()
        self.start()

    def run(self) -> None:
        while job := self.requests.get():
            job.run()
            del job  # and with it the bytes that were read


class _OpenFile:
    """An open file, and its state when it was opened. It is closed when no job uses this object any more."""

    def __init__(self, path: Path) -> None:
        self.descriptor = open_place(path)
        self.state = self.state_now()

    def state_now(self) -> tuple[int, int]:
        """Return the size in bytes and the modification time in ns."""
        status = os.fstat(self.descriptor)
        return status.st_size, status.st_mtime_ns

    def read(self, most: int) -> bytes:
        return os.read(self.descriptor, most)

    def __del__(self) -> None:
        with contextlib.suppress(AttributeError, OSError):  # it was never opened
            os.close(self.descriptor)


class _Job:
    """A file, or a slice of a file, that the thread reads.

    Attributes:
        data: The bytes that were read.
        pieces: Number of pieces read so far.
        is_over: Whether the reading has ended, with or without an error.
    """

    def __init__(self) -> None:
        self._ended: SimpleQueue[None] = SimpleQueue()
        self._error: Exception | None = None
        self.data = b""
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
        """Wait at most `seconds` for the job to end, and return whether it ended."""
        try:
            self._ended.get(timeout=seconds)
        except Empty:
            return False
        return True

    def raise_error(self) -> None:
        if self._error is not None:
            raise self._error

    def _read(self) -> None:
        raise NotImplementedError

    def _read_from(self, file: _OpenFile, most: int) -> None:
        """Read up to `most` bytes into `data`, piece by piece."""
        at_once = min(PIECE_BYTES, most)
        self.data = file.read(at_once)
        self.pieces += 1
        if len(self.data) < at_once or at_once == most:  # most files are one piece, which is not copied
            return
        whole = BytesIO(self.data)  # unlike a join of all pieces, it never holds the file twice
        self.data = b""
        whole.seek(0, os.SEEK_END)
        while piece := file.read(min(PIECE_BYTES, most - whole.tell())):
            whole.write(piece)
            self.pieces += 1
        self.data = whole.getvalue()


class _FileReading(_Job):
    """Reads a file; a large file is only opened.

    Attributes:
        path: The file.
        file: The open file if it is large; otherwise None.
    """

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.path = path
        self.file: _OpenFile | None = None

    def _read(self) -> None:
        file = _OpenFile(self.path)
        if file.state[0] > READ_BYTES:
            self.file = file
        else:  # trying to read one byte more than expected shows whether the file has grown
            self._read_from(file, file.state[0] + 1)


class _SliceReading(_Job):
    """Reads the bytes start:stop of an open file.

    Attributes:
        changed: Whether the file has been written to or cut short since it was opened.
    """

    def __init__(self, file: _OpenFile, start: int, stop: int) -> None:
        super().__init__()
        self._file, self._start, self._stop = file, start, stop
        self.changed = False

    def _read(self) -> None:
        os.lseek(self._file.descriptor, self._start, os.SEEK_SET)
        self._read_from(self._file, self._stop - self._start)
        self.changed = self._file.state_now() != self._file.state or len(self.data) != self._stop - self._start
