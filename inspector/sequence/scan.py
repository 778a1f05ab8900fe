"""Frame files -> facts, one after the other, with cancel."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from inspector.errors import Cancelled, MeshqcError
from inspector.formats.frame import Frame
from inspector.formats.problems import Place, Problem
from inspector.formats.wavefront.reader import FrameReader
from inspector.formats.wavefront.text import UnreadableFrame
from inspector.names import Name, safe
from inspector.sequence.discover import FrameFile
from inspector.sequence.facts import FrameFacts, measure

Cancel = Callable[[], bool]


def never() -> bool:
    """The cancel check of work that nobody can cancel."""
    return False


def scan(files: Sequence[FrameFile], cancelled: Cancel = never) -> Iterator[FrameFacts]:
    """Facts of each file in order. A file that can't be read gives facts that say why; the rest goes on.

    Memory: two frames at a time. Raises Cancelled between frames once `cancelled()` is true.
    """
    reader = FrameReader()
    before: Frame | None = None
    facts_before: FrameFacts | None = None
    for file in files:
        if cancelled():
            raise Cancelled("stopped")
        try:
            frame = reader.read(read_file(file.path))
        except UnreadableFrame as error:
            yield FrameFacts(file.number, file, False, (error.problem,))
        except OSError as error:
            reason = Name((error.strerror or type(error).__name__).encode())
            yield FrameFacts(file.number, file, False, (Problem("unopenable", 1, (Place(1, None, reason),)),))
        else:
            facts_before = measure(frame, file, before, facts_before)
            before = frame
            yield facts_before


def read_file(path: Path) -> bytes:
    """The bytes of a regular file. Raises OSError; a FIFO or device is refused without waiting for it."""
    descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(descriptor, "rb", buffering=0) as file:
        status = os.fstat(descriptor)
        if not stat.S_ISREG(status.st_mode):
            raise OSError(0, "not a regular file")
        return file.read()


def load_frame(path: Path) -> Frame:
    """One frame from a file. Raises MeshqcError that names the file and the cause."""
    try:
        return FrameReader().read(read_file(path))
    except UnreadableFrame as error:
        place = error.problem.places[0]
        raise MeshqcError(f"{safe(path.name)}, line {place.line}: {error.problem.kind}") from error
    except OSError as error:
        raise MeshqcError(f"{safe(path.name)}: {error.strerror}") from error
