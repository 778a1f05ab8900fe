"""Measure on other machines through a Dask scheduler (optional extra `cluster`)."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

from inspector import __version__
from inspector.errors import Cancelled, MeshqcError
from inspector.names import safe
from inspector.sequence.measure.facts_json import MEASUREMENT
from inspector.sequence.run.chunks import Chunk
from inspector.sequence.run.executors import Measured, Take, measure_chunk
from inspector.sequence.run.scan import Cancel, Measurer

CLUSTER_CHUNK_BYTES = 400_000_000
"""Total size of the frame files in a task for other machines, in bytes: 16 to 32 frames of typical size. At this size,
the scheduler's 5 ms per task is negligible."""


class ClusterExecutor:
    """Hands chunks to the workers of a Dask scheduler.

    This package must be installed on the workers, and the frames must have the same paths there as in this process. The
    results are exactly the same as if this process measured the frames.
    """

    chunk_bytes = CLUSTER_CHUNK_BYTES

    def __init__(self, address: str) -> None:
        """Connect to a scheduler.

        Args:
            address: Address of the scheduler, such as tcp://10.0.0.5:8786.

        Raises:
            MeshqcError: The extra `cluster` is not installed, or the scheduler can't be reached.
        """
        try:
            from distributed import Client
        except ImportError:
            raise MeshqcError(
                "--cluster needs the extra `cluster`: in the clone of meshqc, run pip install '.[cluster]'"
            ) from None
        try:
            self._client: Any = Client(address, timeout="5s", set_as_default=False)  # type: ignore[no-untyped-call]
        except (OSError, ValueError, TimeoutError) as error:
            raise MeshqcError(
                f"no scheduler answers at {safe(address)} ({safe(str(error))}); start it, or check the address"
            ) from error

    def close(self) -> None:
        """Disconnect from the scheduler; its workers keep running for other users."""
        self._client.close()

    def run(self, take: Take, cancelled: Cancel) -> Iterator[tuple[Chunk, Measured | None]]:
        """Measure chunks; see Executor.

        The facts of a chunk are None if the scheduler gave up on the chunk because the workers that measured the chunk
        died.

        Raises:
            Cancelled: The work was stopped.
            MeshqcError: A worker has a different version of this package, or the connection to the scheduler was lost.
        """
        from concurrent.futures import wait

        # Two tasks per worker: one that runs and one that waits.
        room = 2 * max(1, len(self._client.scheduler_info()["workers"]))
        pool = self._client.get_executor(pure=False)
        flying: dict[Any, Chunk] = {}
        more = iter(lambda: take(None), None)
        try:
            while True:
                for chunk in itertools.islice(more, room - len(flying)):
                    flying[pool.submit(_measure, chunk)] = chunk
                if not flying:
                    return
                done, _ = wait(flying, timeout=0.05, return_when="FIRST_COMPLETED")
                if cancelled():
                    raise Cancelled("stopped")
                for future in done:
                    yield flying.pop(future), measured(future)
        finally:
            for future in flying:
                future.cancel()


def _measure(chunk: Chunk) -> tuple[str, int, Measured]:
    return __version__, MEASUREMENT, measure_chunk(Measurer(), chunk)


def measured(future: Any) -> Measured | None:
    """Fetch the facts of a task that is done; None if the scheduler gave up on the task (KilledWorker) because the
    workers that ran the task died.

    Raises:
        MeshqcError: The connection to the scheduler was lost, or the worker has a different version of this package.
    """
    from concurrent.futures import CancelledError

    from distributed import KilledWorker

    try:
        version, measurement, facts = future.result()
    except KilledWorker:
        return None
    except CancelledError as error:  # the client gives up all tasks if it can't reach the scheduler again
        raise MeshqcError(_LOST) from error
    except (TypeError, ValueError) as error:
        raise MeshqcError(_OTHER_VERSION) from error
    if (version, measurement) != (__version__, MEASUREMENT):
        raise MeshqcError(_OTHER_VERSION)
    known: Measured = facts
    return known


_LOST = "The connection to the scheduler of the cluster was lost. Start the scheduler and repeat the command."
_OTHER_VERSION = (
    f"A worker of the cluster runs a different version of meshqc. Install meshqc {__version__} on every worker."
)
