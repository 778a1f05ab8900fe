"""Find frames that arrive during an export, and measure them once they no longer change.

The folder is polled, because notifications don't report files that other machines write to shared storage.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from inspector.sequence.discovery.discover import Discovery, FrameFile, discover
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.scan import Measurer

WATCH_SECONDS = (1.0, 2.0)
"""The intervals between polls of a folder, in seconds: the first applies while frames arrive, the second while nothing
changes."""

Wait = Callable[[float], bool]
"""Function that waits for a number of seconds, and returns False to stop watching."""


@dataclass(frozen=True, slots=True)
class FolderState:
    """The state of the folder at one poll.

    Attributes:
        discovery: The content of the folder.
        measured: Each sequence, reduced to the frames that no longer change, with their facts in order.
        arrived: Facts of the frames that are new since the last poll, or whose facts have changed.
        growing: Files that are new or have changed since the last poll, and may still be growing.
    """

    discovery: Discovery
    measured: tuple[tuple[FrameSequence, tuple[FrameFacts, ...]], ...]
    arrived: tuple[FrameFacts, ...]
    growing: tuple[FrameFile, ...]


def watch(
    root: Path, wait: Wait, measured: Iterable[tuple[FrameSequence, tuple[FrameFacts, ...]]] = ()
) -> Iterator[FolderState]:
    """Poll a folder until `wait` returns False.

    A frame is measured only if its size, times and inode did not change between two polls. The first poll includes a
    frame only if the frame is in `measured` and its file has not changed since the frame was measured.

    Args:
        root: The folder.
        wait: Waits before the next poll.
        measured: Earlier facts, which are used again. Their frames are not reported as arrived.

    Yields:
        The state of the folder at each poll.

    Raises:
        MeshqcError: The folder can't be read.
    """
    known = _taken_over(measured)
    counted = {file for file, _ in known}
    seen = {file.path: file for file in counted}
    measurer = Measurer()
    while True:
        started = time.monotonic()
        discovery = discover(root)
        listing = time.monotonic() - started
        files = [file for sequence in discovery.sequences for file in sequence.files]
        quiet = {file for file in files if seen.get(file.path) == file}
        sequences = [one for sequence in discovery.sequences if (one := _only(sequence, quiet)) is not None]
        measured, arrived = _measure(sequences, known, counted, measurer)
        growing = tuple(file for file in files if file not in quiet)
        yield FolderState(discovery, measured, arrived, growing)
        changed = bool(growing or arrived)
        seen = {file.path: file for file in files}
        # A folder that takes long to list is polled less often: at most a tenth of the time is spent on listing. The
        # time for measuring and checking new frames doesn't count; otherwise, the next frame would wait ten times as
        # long.
        pause = WATCH_SECONDS[0 if changed else 1]
        if not wait(max(pause, 9 * listing)):
            return


def _taken_over(
    measured: Iterable[tuple[FrameSequence, tuple[FrameFacts, ...]]],
) -> dict[tuple[FrameFile, FrameFile | None], FrameFacts]:
    known: dict[tuple[FrameFile, FrameFile | None], FrameFacts] = {}
    for _, facts in measured:
        files = [one.file for one in facts]
        known |= dict(zip(zip(files, [None, *files], strict=False), facts, strict=True))
    return known


def _only(sequence: FrameSequence, quiet: set[FrameFile]) -> FrameSequence | None:
    files = tuple(file for file in sequence.files if file in quiet)
    return replace(sequence, files=files) if files else None


def _measure(
    sequences: list[FrameSequence],
    known: dict[tuple[FrameFile, FrameFile | None], FrameFacts],
    counted: set[FrameFile],
    measurer: Measurer,
) -> tuple[tuple[tuple[FrameSequence, tuple[FrameFacts, ...]], ...], tuple[FrameFacts, ...]]:
    """Measure the files whose facts are unknown or outdated, or that couldn't be read before. Return each sequence with
    all its facts, and the facts of the frames that arrived. New facts are added to `known`, and the files of the frames
    that arrived are added to `counted`."""
    measured = []
    arrived: list[FrameFacts] = []
    for sequence in sequences:
        facts = []
        before: FrameFile | None = None
        for file in sequence.files:
            old = known.get((file, before))
            if old is None or not old.readable or not old.still_holds():
                new = known[file, before] = measurer.facts(file, before)
                # If only a new previous frame changed the step of this frame, it has not arrived again. It has arrived
                # again if it couldn't be read before, or if another file of the frame changed, such as a buffer.
                if file not in counted or (old is not None and new != old):
                    counted.add(file)
                    arrived.append(new)
            facts.append(known[file, before])
            before = file
        measured.append((sequence, tuple(facts)))
    return tuple(measured), tuple(arrived)
