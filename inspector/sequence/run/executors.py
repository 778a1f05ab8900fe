"""The interface through which frames are measured, and the executors that use threads of this process.

The executors for other processes and other machines are in processes.py and cluster.py.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from queue import Empty, SimpleQueue
from time import monotonic
from typing import Protocol

from inspector.errors import Cancelled
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.chunks import CHUNK_BYTES, Chunk
from inspector.sequence.run.scan import Cancel, Measurer, scan

Take = Callable[[Chunk | None], Chunk | None]
"""Function that returns a worker's next chunk, or None if no chunk is left. Its argument is the worker's previous
chunk, or None."""

Measured = tuple[FrameFacts, ...]
POLL = 0.05
"""Number of seconds between calls of `cancelled`: half of the 0.1 s within which a stop must take effect."""


class Executor(Protocol):
    """Measures chunks in any order.

    Attributes:
        chunk_bytes: Size of the frame files in a chunk for this executor, in bytes.
    """

    chunk_bytes: int

    def run(self, take: Take, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured | None]]:
        """Measure chunks until none is left. No chunk is begun after the iterator ends.

        Args:
            take: Returns a worker's next chunk.
            cancelled: Returns whether to stop.

        Yields:
            Each chunk with its facts, or with None if its worker died.

        Raises:
            Cancelled: The work was stopped. The exception is raised within 0.1 s, unless the executor's own
                documentation states otherwise.
            NoWorkers: No worker can be started.
        """
        ...


def measure_chunk(measurer: Measurer, chunk: Chunk) -> Measured:
    """Measure the frames of a chunk, in order."""
    return tuple(scan(chunk.files, before=chunk.before, measurer=measurer))


class NoWorkers(Exception):
    """No worker can be started, for example because a limit on processes or threads is reached."""


class InlineExecutor:
    """Measures in the calling thread. A stop takes effect after the current frame.

    Its chunks are long, because a file is read ahead only within a chunk.
    """

    chunk_bytes = 16 * CHUNK_BYTES

    def run(self, take: Take, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured | None]]:
        """Measure chunks; see Executor.

        Raises:
            Cancelled: The work was stopped. The exception is raised after the current frame.
        """
        measurer = Measurer()
        chunk = take(None)
        while chunk is not None:
            yield from _one_by_one(measurer, chunk, cancelled)
            chunk = take(chunk)


def _one_by_one(measurer: Measurer, chunk: Chunk, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured]]:
    """Yield each frame of a chunk as a chunk of its own, with its facts.

    Raises:
        Cancelled: The work was stopped. The exception is raised after the current frame.
    """
    before = chunk.before
    for offset, facts in enumerate(scan(chunk.files, cancelled, before, measurer)):
        yield Chunk(chunk.sequence, chunk.start + offset, (facts.file,), before), (facts,)
        before = facts.file


class ThreadExecutor:
    """Measures in threads of this process. The native core and most of NumPy run without the interpreter lock.

    If a reader crashes, the process ends, so formats whose readers may crash must not be read in threads.
    """

    chunk_bytes = CHUNK_BYTES

    def __init__(self, workers: int) -> None:
        self.workers = workers

    def run(self, take: Take, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured | None]]:
        """Measure chunks; see Executor.

        If the work is stopped, the current frames are finished, but their facts are discarded.

        Raises:
            Cancelled: The work was stopped. The exception is raised within 0.1 s.
            NoWorkers: No thread can be started.
        """
        results: SimpleQueue[_Result] = SimpleQueue()
        lock, stop = threading.Lock(), threading.Event()

        def work(measurer: Measurer) -> None:
            last: Chunk | None = None
            try:
                while not stop.is_set():
                    with lock:  # only one thread at a time may use the schedule
                        last = take(last)
                    if last is None:
                        break
                    for found in _one_by_one(measurer, last, stop.is_set):
                        results.put(found)
                results.put(None)
            except BaseException as error:  # for example out of memory: the caller must know
                results.put(error)
            finally:
                measurer.close()

        first = Measurer()
        threads = [threading.Thread(target=work, args=(first,), daemon=True)]
        try:
            threads[0].start()
        except RuntimeError as error:  # a limit on threads
            raise NoWorkers from error
        working = 1
        try:
            while working:
                found = _next(results, cancelled)
                if isinstance(found, BaseException):
                    raise found
                if found is None:
                    working -= 1
                    continue
                if len(threads) == 1:  # only now is there a frame whose arrays the other threads can reuse
                    for _ in range(self.workers - 1):
                        thread = threading.Thread(target=work, args=(first.fork(),), daemon=True)
                        try:
                            thread.start()
                        except RuntimeError:  # a limit on threads: the running threads do the work
                            break
                        threads.append(thread)
                        working += 1
                yield found
        finally:
            stop.set()
            end = monotonic() + POLL
            for thread in threads:
                thread.join(max(0.0, end - monotonic()))


_Result = tuple[Chunk, Measured] | BaseException | None
"""A message from a thread: a chunk with its facts; the error that ended the thread; or None when the thread is done."""


def _next(results: SimpleQueue[_Result], cancelled: Cancel) -> _Result:
    """Wait for the next result of any thread.

    Raises:
        Cancelled: The work was stopped. The exception is raised within 0.1 s.
    """
    while True:
        if cancelled():
            raise Cancelled("stopped")
        try:
            return results.get(timeout=POLL)
        except Empty:
            continue
