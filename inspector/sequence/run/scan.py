"""Measure the files of frames one after the other, until the work is done or stopped."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import zip_longest
from pathlib import Path

from inspector.errors import Cancelled, MeshqcError, unexpected
from inspector.formats.format import Content
from inspector.formats.frame import Frame
from inspector.formats.problems import Place, Problem, UnreadableFrame
from inspector.formats.reading import FrameReader, parse_file
from inspector.names import Name, safe
from inspector.safe_open import file_state, read_place
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.facts import FileBeside, FrameFacts
from inspector.sequence.measure.measure import Known, measure
from inspector.sequence.run.storage import PatientReader, Stalled

AHEAD_BYTES = 32_000_000
"""Maximum size, in bytes, of a file that is read while the previous frame is measured. Larger files might not fit in
memory."""

Cancel = Callable[[], bool]


def never() -> bool:
    """Return False, as the cancel check of work that can't be cancelled."""
    return False


class Measurer:
    """Measures frames one by one.

    The facts of a frame depend only on its file and the previous file, never on the order of calls. Measuring is
    fastest in the order of the frames.
    """

    def __init__(self, read: Callable[[Path], bytes] | None = None) -> None:
        """Start with no frame in memory.

        Args:
            read: A function that returns the bytes of a file. If `read` is None, files are read from the disk.
        """
        self._storage = PatientReader()
        self._open: Callable[[Path], Content] = read or self._storage.open
        self._reader = FrameReader()
        self._file: FrameFile | None = None
        self._frame: Frame | None = None
        self._known: Known | None = None
        self._beside: tuple[FileBeside, ...] = ()

    def fork(self) -> Measurer:
        """Make a measurer for another thread. The new measurer can copy facts from the frame that this measurer
        measured last."""
        other = Measurer()
        other._reader, other._known = self._reader.fork(), self._known
        return other

    def facts(self, file: FrameFile, before: FrameFile | None, after: FrameFile | None = None) -> FrameFacts:
        """Measure a file. If it can't be read, its facts contain the reason.

        Args:
            file: The file.
            before: The previous file; None for the first file.
            after: The file that will be measured next, which may be read ahead; None if it is not known.
        """
        if before is None:
            self._frame, self._beside = None, ()
        elif before != self._file:
            self._read(before, None, file)
        earlier = self._beside  # the movement also depends on the files beside the previous frame
        facts = self._read(file, self._frame, after)
        beside = tuple(dict.fromkeys((*earlier, *self._beside)))
        return replace(facts, beside=beside) if beside else facts

    def close(self) -> None:
        """End the thread that reads files. The next frame starts a new thread."""
        self._storage.close()

    def _read(self, file: FrameFile, before: Frame | None, after: FrameFile | None) -> FrameFacts:
        """Measure one file. If this fails, the facts contain the reason."""
        self._file = file
        beside: list[FileBeside] = []
        try:
            return self._measured(file, before, after, beside)
        except UnreadableFrame as error:
            return self._unreadable(file, error.problem)
        except Stalled:
            return self._unreadable(file, Problem("stalled", 1, (Place(1),)))
        except OSError as error:
            reason = Name((error.strerror or type(error).__name__).encode())
            return self._unreadable(file, Problem("unopenable", 1, (Place(1, None, reason),)))
        except MemoryError:
            return self._unreadable(file, Problem("not-measured", 1, (Place(1, None, Name(b"memory ran out")),)))
        except Exception as error:
            reason = Name(unexpected(error).encode())
            return self._unreadable(file, Problem("not-measured", 1, (Place(1, None, reason),)))
        finally:
            self._beside = tuple(beside)

    def _measured(
        self, file: FrameFile, before: Frame | None, after: FrameFile | None, beside: list[FileBeside]
    ) -> FrameFacts:
        """Read and measure one file. The other files that it depends on are added to `beside`, even after a failure."""
        data = self._open(file.place)
        if len(data) != file.size:
            return self._unreadable(file, Problem("still-written", 1, (Place(1),)))
        parsed = parse_file(data, file.path, partial(self._read_beside, file.path.parent, beside))
        if after is not None and after.size <= AHEAD_BYTES:
            self._storage.expect(after.place)
        del data  # the text of a frame takes twice the memory of its arrays
        frame = self._reader.read_to_measure(parsed)
        del parsed
        facts = measure(frame, file, before, self._known)
        self._frame, self._known = frame, Known(frame, facts)
        return facts

    def _read_beside(self, folder: Path, read: list[FileBeside], path: Path) -> bytes:
        name = Name.from_path(os.path.relpath(path, folder))
        try:
            state = file_state(path.stat())  # before reading, so that a change while reading is noticed
        except OSError:
            read.append(FileBeside(name, None))
            raise
        read.append(FileBeside(name, state))
        return self._storage.read(path)

    def _unreadable(self, file: FrameFile, problem: Problem) -> FrameFacts:
        self._frame = None
        return FrameFacts(file.number, file, False, (problem,))


def scan(
    files: Sequence[FrameFile],
    cancelled: Cancel = never,
    before: FrameFile | None = None,
    measurer: Measurer | None = None,
) -> Iterator[FrameFacts]:
    """Yield the facts of each file in order, measured in this process. Two frames are in memory at a time.

    Args:
        files: Consecutive files of a sequence.
        cancelled: Returns whether to stop; called before each file.
        before: The file before the first file; None if there is no such file.
        measurer: Measures the files; it may still have the file `before` in memory. None for a new measurer.

    Raises:
        Cancelled: The work was stopped.
    """
    measurer = measurer or Measurer()
    for file, after in zip_longest(files, files[1:]):
        if cancelled():
            raise Cancelled("stopped")
        yield measurer.facts(file, before, after)
        before = file


def load_frame(path: Path, place: Path | None = None) -> Frame:
    """Read one frame.

    Args:
        path: The path as the user typed it, or the path of a sequence's file.
        place: The path of a sequence's file with all links resolved; None to resolve the links now.

    Raises:
        MeshqcError: The file can't be read. The message names the file, the cause and, if it is known, the line.
    """
    if place is None:
        path, place = Path(os.path.realpath(path.parent)) / path.name, Path(os.path.realpath(path))
    try:
        return FrameReader().read(read_place(place), path, read_place)
    except UnreadableFrame as error:
        line = error.problem.places[0].line
        where = f", line {line}" if line else ""
        raise MeshqcError(f"{safe(path.name)}{where}: {error.words}") from error
    except OSError as error:
        raise MeshqcError(f"{safe(path.name)}: {error.strerror}") from error


def load_file(file: FrameFile) -> Frame:
    """Read one file of a sequence, as `load_frame` does."""
    return load_frame(file.path, file.place)
