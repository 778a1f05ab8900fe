"""Tests of a Dask scheduler with a real local cluster of two worker processes."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from concurrent.futures import Future
from pathlib import Path

import pytest

from inspector import __version__
from inspector.errors import MeshqcError
from inspector.sequence.discovery.discover import discover
from inspector.sequence.measure.facts_json import MEASUREMENT
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.cluster import ClusterExecutor, measured
from inspector.sequence.run.collect import collect
from inspector.sequence.run.scan import scan

distributed = pytest.importorskip("distributed", reason="the optional extra `cluster` is not installed")
pytestmark = pytest.mark.filterwarnings("ignore")  # the scheduler's own shutdown raises many kinds of warnings


@pytest.fixture
def cluster() -> Iterator[object]:
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as cluster:
        yield cluster


def test_results_are_the_same_with_one_worker_killed_in_the_middle(cluster: object, demo: Path) -> None:
    sequences = discover(demo).sequences
    expected = {(n, i): facts for n, one in enumerate(sequences) for i, facts in enumerate(scan(one.files))}
    executor = ClusterExecutor(cluster.scheduler_address)  # type: ignore[attr-defined]
    executor.chunk_bytes = 200_000
    workers = list(cluster.workers.values())  # type: ignore[attr-defined]
    got = {}
    for sequence, index, facts in collect(sequences, FactsCache(None), executor):
        got[sequence, index] = facts
        if len(got) == 9:
            os.kill(workers[0].process.pid, signal.SIGKILL)
    executor.close()
    assert got == expected


class _Answer:
    def __init__(self, answer: object) -> None:
        self._answer = answer

    def result(self) -> object:
        return self._answer


@pytest.mark.parametrize("answer", [("0.0", MEASUREMENT, ()), (__version__, MEASUREMENT - 1, ()), (), None])
def test_a_worker_of_another_version_is_refused(answer: object) -> None:
    with pytest.raises(MeshqcError, match="a different version"):
        measured(_Answer(answer))


def test_a_scheduler_that_stops_during_the_work_ends_in_a_sentence() -> None:
    """If the scheduler stops, the client cancels all tasks (seen with a real scheduler). This once caused a
    traceback."""
    lost: Future[object] = Future()
    lost.cancel()
    with pytest.raises(MeshqcError, match="connection to the scheduler of the cluster was lost"):
        measured(lost)


def test_no_scheduler_is_said_plainly() -> None:
    with pytest.raises(MeshqcError, match=r"no scheduler answers at 127\.0\.0\.1:1"):
        ClusterExecutor("127.0.0.1:1")
