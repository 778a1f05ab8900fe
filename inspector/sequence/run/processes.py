"""Measure frames in other processes on this machine. If a reader crashes, only its own process ends."""

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

from inspector.errors import Cancelled
from inspector.sequence.run.chunks import CHUNK_BYTES, Chunk
from inspector.sequence.run.executors import POLL, Measured, NoWorkers, Take, measure_chunk
from inspector.sequence.run.scan import Cancel, Measurer

Work = Callable[[Measurer, Chunk], Measured]

_READY = "ready"  # a worker's first message: if the worker dies after it, a frame is the cause

_NO_PROCESSES = (AssertionError, RuntimeError, OSError)
"""Exceptions that multiprocessing raises if no process can be started, for example in a daemonic worker of another pool
or at a system limit."""


_STARTING = threading.Lock()

_STARTED_WITHIN = 1.0
"""Number of seconds to wait for an interrupted start to finish."""


@contextlib.contextmanager
def _main_hidden() -> Iterator[None]:
    """Keep new processes from running the user's script again.

    By default, multiprocessing imports the main module in each process. As a result, a script that has no
    `if __name__ == "__main__"` would run again in each process. Only one thread at a time hides the main module.
    Otherwise, one thread could restore the module while another thread is still starting a process.
    """
    with _STARTING:
        main = sys.modules["__main__"].__dict__
        saved: dict[str, object] = {name: main.pop(name) for name in ("__file__", "__spec__") if name in main}
        main["__spec__"] = None
        try:
            yield
        finally:
            main.update(saved)


def _start(process: BaseProcess) -> None:
    """Start a process in a thread, so that Ctrl-C can't interrupt the start.

    After an interrupted start, the new process would wait for the rest of its data, and then print a traceback.

    Raises:
        NoWorkers: The process can't be started.
    """
    errors: list[BaseException] = []

    def start() -> None:
        try:
            with _main_hidden():
                process.start()
        except _NO_PROCESSES as error:
            errors.append(error)

    # A daemon thread, because Python must not wait for it at exit: if the start was interrupted, it may never begin.
    thread = threading.Thread(target=start, daemon=True)
    try:
        thread.start()
        thread.join()
    except RuntimeError as error:  # a limit of the system
        raise NoWorkers from error
    except BaseException:
        with contextlib.suppress(RuntimeError):  # it was not started
            thread.join(_STARTED_WITHIN)
        raise
    if errors:
        raise NoWorkers from errors[0]


class _Worker:
    """A worker process, the pipe between it and this process, and the chunk that it is measuring."""

    def __init__(self, context: BaseContext, work: Work, niceness: int) -> None:
        self.pipe, theirs = context.Pipe()
        self.process: BaseProcess = context.Process(target=_serve, args=(theirs, work, niceness), daemon=True)  # type: ignore[attr-defined]
        _start(self.process)
        theirs.close()
        self.chunk: Chunk | None = None
        self.began = False

    def give(self, chunk: Chunk) -> None:
        self.chunk = chunk
        with contextlib.suppress(OSError):  # the worker died: reading its answer from the closed pipe will show this
            self.pipe.send(chunk)

    def answer(self) -> Measured | str | None:
        """Receive the next message from the worker: `_READY` after it has started, or the facts of its chunk; None if
        it died.

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
    """Measures frames in worker processes.

    If a process dies, its chunk is lost and the process is replaced; other processes are not affected.
    """

    chunk_bytes = CHUNK_BYTES

    def __init__(self, workers: int, work: Work = measure_chunk, niceness: int = 0) -> None:
        """Store the settings. On systems with a fork server, start that server. `run` starts the workers.

        Args:
            workers: Number of processes.
            work: The function that a worker applies to a chunk. Other processes must be able to import it.
            niceness: Niceness of the workers (POSIX nice); a higher value gives other processes precedence.
        """
        self.workers, self.niceness, self._work = workers, niceness, work
        # A process with threads, such as the terminal UI, must not be forked. forkserver forks a clean process.
        method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
        self._context = multiprocessing.get_context(method)
        if method == "forkserver":
            self._context.set_forkserver_preload([__name__])
            with contextlib.suppress(*_NO_PROCESSES):  # `run` raises NoWorkers, and its caller measures by itself
                _start_forkserver()

    def run(self, take: Take, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured | None]]:
        """Measure chunks; see Executor.

        Raises:
            Cancelled: The work was stopped. The exception is raised within 0.1 s.
            NoWorkers: No process can be started.
        """
        workers: dict[Connection, _Worker] = {}
        last: Chunk | None = None
        try:
            for _ in range(self.workers):
                self._start(workers, take(None))
            while workers:
                ready = wait(list(workers), timeout=POLL)
                if cancelled():
                    raise Cancelled("stopped")
                for pipe in ready:
                    assert isinstance(pipe, Connection)
                    worker = workers[pipe]
                    chunk, measured = worker.chunk, worker.answer()
                    if isinstance(measured, str):  # the worker has started; its facts come later
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
    """Start the server from which workers are forked. The server imports modules while this process does other work.

    The server inherits a signal mask that blocks Ctrl-C (POSIX, fork and exec). Otherwise, Ctrl-C could interrupt the
    server's imports.
    """
    resource_tracker.ensure_running()  # if forkserver started it, the mask would be removed
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        forkserver.ensure_running()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(pipe: Connection, work: Work, niceness: int) -> None:
    """Run a worker: receive chunks and send their facts, until the pipe closes or the parent process is gone."""
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
    """Discard all output of this process: a library's messages would spoil the parent process's screen."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.flush()
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    os.close(nowhere)
