"""Collect the facts of all frames of all sequences, from the cache or by measuring."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from itertools import pairwise

from inspector import _native
from inspector.formats.problems import Place, Problem
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.chunks import Chunk, Schedule, Span, Urgent, nobody_looks
from inspector.sequence.run.executors import Executor, InlineExecutor, NoWorkers, ThreadExecutor
from inspector.sequence.run.scan import Cancel, never

SAMPLES = 9
"""Number of frames of each long run of frames (see SAMPLES_FROM) that are read first if a user is watching. They show
whether the whole export is wrong or only its later part."""

SAMPLES_FROM = 100
"""If at least this many consecutive frames have no facts in the cache, SAMPLES of them are read before all frames that
are not samples."""

NICENESS = 10
"""Niceness of workers while the terminal UI runs, so that key presses don't wait."""

WORKER_BYTES = 120_000_000
"""If the largest frame has more bytes than this, only one worker is used. A worker takes about four times as many bytes
of memory as its frame has."""

INLINE_BYTES = 60_000_000
"""Minimum size of all frames together, in bytes, for which worker processes are worth the 0.2 s that starting them
takes."""

Arrival = tuple[int, int, FrameFacts]
"""Index of a sequence, index of a frame in the sequence's files, and the facts of the frame."""


def executor_for(sequences: Sequence[FrameSequence], watched: bool = False) -> Executor:
    """Choose the executor that fits the work, with as many workers as memory allows.

    The workers are threads if there is no terminal UI, and either the native core is available or this process is not
    the command `meshqc`. In all other cases, the workers are processes. The calling thread measures the frames itself
    in two cases: if the workers would be processes but there is little to read, or if there would be only one worker
    and there is no terminal UI. Threads are safe, because formats whose library may crash, such as USD, are not frame
    formats.

    Args:
        sequences: The sequences to measure.
        watched: Whether this process has a terminal UI. If so, even a single worker is a process, unless there is
            little to read.
    """
    sizes = [file.size for sequence in sequences for file in sequence.files]
    if not watched and (_native.active or not may_start_processes()):
        workers = _workers(sizes)
        return ThreadExecutor(workers) if workers > 1 else InlineExecutor()
    if sum(sizes) < INLINE_BYTES:
        return InlineExecutor()
    workers = _workers(sizes)
    if workers < 2 and not watched:
        return InlineExecutor()
    from inspector.sequence.run.processes import ProcessExecutor

    return ProcessExecutor(workers, niceness=NICENESS if watched else 0)


def may_start_processes() -> bool:
    """Whether this process may start worker processes by default. Only the command `meshqc` may."""
    spec = getattr(sys.modules.get("__main__"), "__spec__", None)
    return "inspector.__main__" in sys.modules or (spec is not None and spec.name == "inspector.__main__")


def _workers(sizes: Sequence[int]) -> int:
    return 1 if max(sizes, default=0) > WORKER_BYTES else min(available_cores(), len(sizes))


def available_cores() -> int:
    """Return the number of cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def collect(
    sequences: Sequence[FrameSequence],
    cache: FactsCache,
    executor: Executor | None = None,
    cancelled: Cancel = never,
    urgent: Urgent = nobody_looks,
) -> Iterator[Arrival]:
    """Yield the facts of every frame once, in no particular order.

    The facts don't depend on the executor, on the cache, or on which worker measures which frames.

    Args:
        sequences: The sequences.
        cache: The cache in which facts are looked up and kept.
        executor: Measures the frames; None to choose an executor that fits the work.
        cancelled: Returns whether to stop.
        urgent: Returns the frames on the screen; called repeatedly.

    Raises:
        Cancelled: The work was stopped. The exception is raised within 0.1 s or, if the calling thread measures the
            frames, after the current frame.
        MeshqcError: The executor failed (see ClusterExecutor).
    """
    unknown: list[Span] = []
    for number, sequence in enumerate(sequences):
        found = cache.find(sequence.files)
        for index, facts in enumerate(found):
            if facts is not None:
                yield number, index, facts
        unknown += [(number, start, stop) for start, stop in _gaps(found)]
    watched = urgent is not nobody_looks
    samples, rest = _samples(unknown) if watched else ([], unknown)
    small = sum(sequences[n].files[index].size for n, index, _ in samples) < INLINE_BYTES
    chosen = executor
    if unknown and executor is None:
        chosen = executor_for(sequences, watched=watched)
    if samples and small and executor is None and not isinstance(chosen, InlineExecutor):
        # Frames that are read here are available before a worker has started.
        yield from measure_spans(sequences, samples, cache, InlineExecutor(), cancelled)
        samples = []
    if samples or rest:
        yield from measure_spans(sequences, [*samples, *rest], cache, chosen, cancelled, urgent)


def _samples(unknown: Sequence[Span]) -> tuple[list[Span], list[Span]]:
    """Select the first, the last and some evenly spaced frames of each long span.

    Returns:
        The selected frames, each as a span, and the spans of the other frames.
    """
    samples: list[Span] = []
    rest: list[Span] = []
    for number, start, stop in unknown:
        length = stop - start
        if length < SAMPLES_FROM:
            rest.append((number, start, stop))
            continue
        picks = [start + round(share * (length - 1) / (SAMPLES - 1)) for share in range(SAMPLES)]
        samples += [(number, pick, pick + 1) for pick in picks]
        rest += [(number, before + 1, after) for before, after in pairwise(picks)]
    return samples, rest


def measure_spans(
    sequences: Sequence[FrameSequence],
    spans: Sequence[Span],
    cache: FactsCache,
    executor: Executor | None = None,
    cancelled: Cancel = never,
    urgent: Urgent = nobody_looks,
) -> Iterator[Arrival]:
    """Measure spans of frames, approximately in order, and yield the facts of each frame. If no worker can be started,
    the calling thread measures the frames.

    Raises:
        Cancelled: The work was stopped.
    """
    executor = executor or executor_for(sequences)
    arrived: set[tuple[int, int]] = set()
    try:
        for number, index, facts in _measure(sequences, spans, cache, executor, cancelled, urgent):
            arrived.add((number, index))
            yield number, index, facts
    except NoWorkers:
        left = [(n, i, i + 1) for n, start, stop in spans for i in range(start, stop) if (n, i) not in arrived]
        yield from _measure(sequences, left, cache, InlineExecutor(), cancelled, urgent)


def _measure(
    sequences: Sequence[FrameSequence],
    spans: Sequence[Span],
    cache: FactsCache,
    executor: Executor,
    cancelled: Cancel,
    urgent: Urgent,
) -> Iterator[Arrival]:
    files = [sequence.files for sequence in sequences]
    died: list[Chunk] = []
    for chunk, measured in executor.run(Schedule(files, spans, executor.chunk_bytes, urgent).take, cancelled):
        if measured is None:
            died.append(chunk)
        else:
            yield from _arrivals(chunk, measured, cache)
    if died:
        # In each of these chunks, a frame kills its reader. To find it, measure each frame by itself.
        singles = [(c.sequence, index, index + 1) for c in died for index in range(c.start, c.stop)]
        for chunk, measured in executor.run(Schedule(files, singles).take, cancelled):
            yield from _arrivals(chunk, measured or tuple(_killer(file) for file in chunk.files), cache)


def _arrivals(chunk: Chunk, measured: Sequence[FrameFacts], cache: FactsCache) -> Iterator[Arrival]:
    previous_files = (chunk.before, *chunk.files[:-1])
    cache.keep(zip(measured, previous_files, strict=True))
    for offset, facts in enumerate(measured):
        yield chunk.sequence, chunk.start + offset, facts


def _killer(file: FrameFile) -> FrameFacts:
    return FrameFacts(file.number, file, False, (Problem("reader-died", 1, (Place(1),)),))


def _gaps(found: Sequence[FrameFacts | None]) -> Iterator[tuple[int, int]]:
    """Yield the start and stop of each range of consecutive frames whose facts are not known."""
    start = None
    for index, facts in enumerate([*found, False]):
        if facts is None and start is None:
            start = index
        elif facts is not None and start is not None:
            yield start, index
            start = None
