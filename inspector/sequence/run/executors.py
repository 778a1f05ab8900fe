"""Executors that measure frames: this process, other processes, or (cluster.py) other machines, with one interface."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from multiprocessing import forkserver, resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.context import BaseContext
from multiprocessing.process import BaseProcess
from queue import Empty, SimpleQueue
from typing import Protocol

from inspector.errors import Cancelled
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.chunks import CHUNK_BYTES, Chunk
from inspector.sequence.run.scan import Cancel, Measurer, scan

Take = Callable[[Chunk | None], Chunk | None]
"""Gives a worker its next chunk, given its last chunk; None if no chunk is left for it."""

Measured = tuple[FrameFacts, ...]
_POLL = 0.05  # seconds between looks at `cancelled`: half of the 0.1 s within which a stop must work


class Executor(Protocol):
    """Measures chunks in any order.

    Attributes:
        chunk_bytes: Bytes of frames per chunk for this executor.
    """

    chunk_bytes: int

    def run(self, take: Take, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured | None]]:
        """Measure chunks until none is left. Nothing keeps running after the iterator ends.

        Args:
            take: Gives a worker its next chunk.
            cancelled: Whether to stop.

        Yields:
            Chunks with their facts; None for a chunk whose worker died.

        Raises:
            Cancelled: It was stopped; within 0.1 s.
        """
        ...


def measure_chunk(measurer: Measurer, chunk: Chunk) -> Measured:
    """Facts of the frames of a chunk, in order.

    Args:
        measurer: Measures them; it may still have the previous frame.
        chunk: The chunk.
    """
    return tuple(scan(chunk.files, before=chunk.before, measurer=measurer))


Work = Callable[[Measurer, Chunk], Measured]

_READY = "ready"  # a worker's first word: if it dies after it, the frame is the cause


class NoWorkers(Exception):
    """Processes can't be started here, for example from a script without `if __name__ == "__main__"`."""


class InlineExecutor:
    """Measures in the calling thread, frame by frame, so that stopping waits for one frame at most.

    Its chunks are long, because within a chunk the next file is read while one is measured.
    """

    chunk_bytes = 16 * CHUNK_BYTES

    def run(self, take: Take, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured | None]]:
        """Measure chunks; see Executor.

        Raises:
            Cancelled: It was stopped; after the current frame.
        """
        measurer = Measurer()
        chunk = take(None)
        while chunk is not None:
            yield from _one_by_one(measurer, chunk, cancelled)
            chunk = take(chunk)


def _one_by_one(measurer: Measurer, chunk: Chunk, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured]]:
    """The frames of a chunk as chunks of one. Raises Cancelled between frames."""
    before = chunk.before
    for offset, facts in enumerate(scan(chunk.files, cancelled, before, measurer)):
        yield Chunk(chunk.sequence, chunk.start + offset, (facts.file,), before), (facts,)
        before = facts.file


class ThreadExecutor:
    """Measures in threads of this process: the native core and most of NumPy run without the interpreter lock.

    It starts without delay, and a thread reuses what its frames share with the first frame of the first thread. A
    reader that crashes ends the process: formats whose readers may crash are not for threads.
    """

    chunk_bytes = CHUNK_BYTES

    def __init__(self, workers: int) -> None:
        self.workers = workers

    def run(self, take: Take, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured | None]]:
        """Measure chunks; see Executor. When it is stopped, the current frames are finished and their facts dropped.

        Raises:
            Cancelled: It was stopped; within 0.1 s.
            NoWorkers: No thread can be started.
        """
        results: SimpleQueue[_Result] = SimpleQueue()
        lock, stop = threading.Lock(), threading.Event()

        def work(measurer: Measurer) -> None:
            last: Chunk | None = None
            try:
                while not stop.is_set():
                    with lock:  # a schedule is for one thread at a time
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
                if len(threads) == 1:  # only now there is something that the others can take over
                    for _ in range(self.workers - 1):
                        thread = threading.Thread(target=work, args=(first.fork(),), daemon=True)
                        try:
                            thread.start()
                        except RuntimeError:  # a limit on threads: those that run do the work
                            break
                        threads.append(thread)
                        working += 1
                yield found
        finally:
            stop.set()
            for thread in threads:
                thread.join(_POLL)


_Result = tuple[Chunk, Measured] | BaseException | None
"""The results of a thread: a frame's facts, its error, or None when it is done."""


def _next(results: SimpleQueue[_Result], cancelled: Cancel) -> _Result:
    """The next result of any thread. Raises Cancelled within 0.1 s once `cancelled()` is true."""
    while True:
        if cancelled():
            raise Cancelled("stopped")
        try:
            return results.get(timeout=_POLL)
        except Empty:
            continue


_NO_PROCESSES = (AssertionError, RuntimeError, OSError)
"""Exceptions that multiprocessing raises if no process can be started: in a daemonic worker of another pool, in a
process that was forked from one with a server of its own (ChildProcessError), at a limit of the system."""


@contextlib.contextmanager
def _main_hidden() -> Iterator[None]:
    """Keep a new process from running the user's script again.

    multiprocessing imports the main module in each process, because it may define functions; ours are importable. A
    script without `if __name__ == "__main__"` would start over in each process, and a script on standard input would
    fail.
    """
    main = sys.modules["__main__"].__dict__
    saved: dict[str, object] = {name: main.pop(name) for name in ("__file__", "__spec__") if name in main}
    main["__spec__"] = None
    try:
        yield
    finally:
        main.update(saved)


class _Worker:
    """A process, the pipe to it, and what it is doing."""

    def __init__(self, context: BaseContext, work: Work, niceness: int) -> None:
        self.pipe, theirs = context.Pipe()
        self.process: BaseProcess = context.Process(target=_serve, args=(theirs, work, niceness), daemon=True)  # type: ignore[attr-defined]
        try:
            with _main_hidden():
                self.process.start()
        except _NO_PROCESSES as error:
            raise NoWorkers from error
        theirs.close()
        self.chunk: Chunk | None = None
        self.began = False

    def give(self, chunk: Chunk) -> None:
        self.chunk = chunk
        with contextlib.suppress(OSError):  # it died: the closed pipe shows it when the answer is read
            self.pipe.send(chunk)

    def answer(self) -> Measured | str | None:
        """The message of the worker: its first word or facts; None if it died while measuring its chunk.

        Raises:
            NoWorkers: The worker never started.
        """
        try:
            measured: Measured | str = self.pipe.recv()
        except (EOFError, OSError):
            if not self.began:
                raise NoWorkers from None
            return None
        self.began = True
        return measured

    def stop(self) -> None:
        self.process.kill()
        self.process.join()
        self.pipe.close()


class ProcessExecutor:
    """Measures in worker processes.

    A process that dies takes its chunk with it and is replaced; the others are not affected.
    """

    chunk_bytes = CHUNK_BYTES

    def __init__(self, workers: int, work: Work = measure_chunk, niceness: int = 0) -> None:
        """Store the settings; the workers start with `run`.

        Args:
            workers: Number of processes.
            work: The function that a worker applies to a chunk; it must be importable, because other processes run it.
            niceness: How far the workers give way to other processes that wait for a core (POSIX, nice).
        """
        self.workers, self.niceness, self._work = workers, niceness, work
        # Never fork a process that has threads (the terminal UI does); forkserver starts in a clean process.
        method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
        self._context = multiprocessing.get_context(method)
        if method == "forkserver":
            self._context.set_forkserver_preload([__name__])
            with contextlib.suppress(*_NO_PROCESSES):  # run raises NoWorkers, and its caller goes on without them
                _start_forkserver()

    def run(self, take: Take, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured | None]]:
        """Measure chunks; see Executor.

        Raises:
            Cancelled: It was stopped; within 0.1 s.
            NoWorkers: No process can be started.
        """
        workers: dict[Connection, _Worker] = {}
        last: Chunk | None = None
        try:
            for _ in range(self.workers):
                self._start(workers, take(None))
            while workers:
                ready = wait(list(workers), timeout=_POLL)
                if cancelled():
                    raise Cancelled("stopped")
                for pipe in ready:
                    assert isinstance(pipe, Connection)
                    worker = workers[pipe]
                    chunk, measured = worker.chunk, worker.answer()
                    if isinstance(measured, str):  # alive; its facts come later, and a stop must not wait for them
                        continue
                    del workers[pipe]
                    assert chunk is not None
                    last = take(chunk)
                    if measured is not None and last is not None:
                        worker.give(last)
                        workers[pipe] = worker
                    else:
                        worker.stop()
                        self._start(workers, last)
                    yield chunk, measured
        finally:
            for worker in workers.values():
                worker.stop()

    def _start(self, workers: dict[Connection, _Worker], chunk: Chunk | None) -> None:
        if chunk is not None:
            worker = _Worker(self._context, self._work, self.niceness)
            worker.give(chunk)
            workers[worker.pipe] = worker


def _start_forkserver() -> None:
    """Start the server while this process has other things to do.

    Ctrl-C is blocked in it from the start; otherwise its imports would end in a traceback. A signal mask is inherited
    (POSIX, fork and exec).
    """
    resource_tracker.ensure_running()  # otherwise forkserver starts it, which removes the mask
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        forkserver.ensure_running()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(pipe: Connection, work: Work, niceness: int) -> None:
    """Run a worker: chunks in, facts out, until the pipe closes or the parent is gone."""
    os.nice(niceness)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to handle
    _be_quiet()
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_die_with, args=(parent,), daemon=True).start()
    measurer = Measurer()
    with contextlib.suppress(EOFError, OSError):
        pipe.send(_READY)
        while True:
            pipe.send(work(measurer, pipe.recv()))


def _die_with(parent: BaseProcess) -> None:
    parent.join()
    os._exit(1)


def _be_quiet() -> None:
    """Silence the process: the screen is the parent's, and nothing that a library prints may reach it."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.flush()
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    os.close(nowhere)
