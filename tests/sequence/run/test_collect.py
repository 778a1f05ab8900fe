"""Tests of worker processes that measure frames."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspector import _native
from inspector.errors import Cancelled
from inspector.sequence.discovery.discover import FrameFile, discover
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.chunks import Chunk, Schedule, Span
from inspector.sequence.run.collect import NICENESS, Arrival, collect, executor_for
from inspector.sequence.run.executors import Executor, InlineExecutor, ThreadExecutor
from inspector.sequence.run.processes import ProcessExecutor
from inspector.sequence.run.scan import scan
from tests.helpers.works import die_over_frame_7, never_end, only_if_nice

Facts = dict[tuple[int, int], FrameFacts]


def all_facts(root: Path, executor: Executor) -> Facts:
    arrivals: list[Arrival] = list(collect(discover(root).sequences, FactsCache(None), executor))
    facts = {(sequence, index): one for sequence, index, one in arrivals}
    assert len(facts) == len(arrivals), "a frame came twice"
    return facts


@pytest.fixture(scope="module")
def expected(demo: Path) -> Facts:
    return {
        (number, index): facts
        for number, sequence in enumerate(discover(demo).sequences)
        for index, facts in enumerate(scan(sequence.files))
    }


@pytest.mark.parametrize("workers", [1, 2, 3])
@pytest.mark.parametrize("chunk_bytes", [1, 200_000, 10**9])
def test_facts_are_the_same_whatever_the_split(demo: Path, expected: Facts, workers: int, chunk_bytes: int) -> None:
    executor = ProcessExecutor(workers)
    executor.chunk_bytes = chunk_bytes
    assert all_facts(demo, executor) == expected


def test_facts_are_the_same_in_one_process(demo: Path, expected: Facts) -> None:
    assert all_facts(demo, InlineExecutor()) == expected


def test_samples_come_first_in_a_long_sequence_that_somebody_looks_at(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("inspector.sequence.run.collect.SAMPLES_FROM", 20)
    monkeypatch.setattr("inspector.sequence.run.collect.SAMPLES", 3)
    sequences = [one for one in discover(demo).sequences if one.name.display == "manta"]
    looked_at = collect(sequences, FactsCache(None), InlineExecutor(), urgent=lambda: None)
    order = [index for _, index, _ in looked_at]
    assert order[:3] == [0, 12, 23]
    assert sorted(order) == list(range(24))
    unseen = collect(sequences, FactsCache(None), InlineExecutor())
    assert [index for _, index, _ in unseen] == list(range(24))


def test_a_schedule_hands_out_each_frame_once_and_keeps_neighbours_together(demo: Path) -> None:
    files = [one.files for one in discover(demo).sequences]
    schedule = Schedule(files, [(n, 0, len(some)) for n, some in enumerate(files)], chunk_bytes=150_000)
    last: list[Chunk | None] = [None, None]
    seen: list[tuple[int, int]] = []
    follow_on = 0
    for turn in range(1000):
        before = last[turn % 2]
        chunk = schedule.take(before)
        if chunk is None:
            continue
        if before is not None and (before.sequence, before.stop) == (chunk.sequence, chunk.start):
            follow_on += 1
        last[turn % 2] = chunk
        seen += [(chunk.sequence, index) for index in range(chunk.start, chunk.stop)]
    assert sorted(seen) == [(n, i) for n, some in enumerate(files) for i in range(len(some))]
    assert follow_on >= 15


@given(st.data())
def test_whatever_somebody_looks_at_each_frame_is_handed_out_once(data: st.DataObject) -> None:
    """The next worker gets a frame that the user is looking at, unless another worker may already have it."""
    lengths = data.draw(st.lists(st.integers(1, 20), min_size=1, max_size=3))
    files = [[FrameFile(Fraction(n), Path("manta"), 10, 0) for n in range(many)] for many in lengths]
    looks = st.tuples(st.integers(0, len(files) - 1), st.integers(0, 20), st.integers(0, 25))
    looking: list[Span | None] = [None]
    spans = [(n, 0, many) for n, many in enumerate(lengths)]
    schedule = Schedule(files, spans, chunk_bytes=30, urgent=lambda: looking[0])
    last: list[Chunk | None] = [None] * data.draw(st.integers(1, 3))
    left = {(n, index) for n, many in enumerate(lengths) for index in range(many)}
    while left:
        looking[0] = data.draw(st.none() | looks)
        worker = data.draw(st.integers(0, len(last) - 1))
        chunk = schedule.take(last[worker])
        others = any(other is not None for at, other in enumerate(last) if at != worker)
        last[worker] = chunk
        if chunk is None:
            assert others, "frames were forgotten"
            continue
        given_out = {(chunk.sequence, index) for index in range(chunk.start, chunk.stop)}
        assert given_out <= left, "a frame came twice"
        if looking[0] is not None and not others:
            number, start, stop = looking[0]
            wanted = {(number, index) for index in range(start, stop)} & left
            assert not wanted or given_out & wanted
        left -= given_out


def test_a_frame_that_kills_its_reader_costs_only_itself(demo: Path, expected: Facts) -> None:
    facts = all_facts(demo, ProcessExecutor(2, die_over_frame_7))
    sevenths = {key for key, one in expected.items() if one.number == 7}
    assert len(sevenths) == 4
    for key, one in facts.items():
        if key in sevenths:
            assert not one.readable
            assert one.problems[0].kind == "reader-died"
        else:
            assert one == expected[key]


def test_a_worker_killed_from_outside_costs_nothing(demo: Path, expected: Facts) -> None:
    executor = ProcessExecutor(2)
    executor.chunk_bytes = 1
    facts: Facts = {}
    killed = 0
    for sequence, index, one in collect(discover(demo).sequences, FactsCache(None), executor):
        facts[sequence, index] = one
        if len(facts) in (5, 20):
            os.kill(multiprocessing.active_children()[0].pid or 0, signal.SIGKILL)
            killed += 1
    assert killed == 2
    assert facts == expected


def test_a_stop_ends_the_workers_at_once(demo: Path) -> None:
    asked = []

    def cancelled() -> bool:
        asked.append(time.monotonic())
        return len(asked) > 3

    with pytest.raises(Cancelled):
        list(collect(discover(demo).sequences, FactsCache(None), ProcessExecutor(2, never_end), cancelled))
    assert not multiprocessing.active_children()


PARENT = """
import multiprocessing, sys, threading, time
from pathlib import Path
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.collect import collect
from inspector.sequence.discovery.discover import FrameFile, discover
from inspector.sequence.run.processes import ProcessExecutor
from tests.helpers.works import never_end

def tell():
    while len(multiprocessing.active_children()) < 2:
        time.sleep(0.05)
    time.sleep(0.5)
    print(*(child.pid for child in multiprocessing.active_children()), flush=True)

if __name__ == "__main__":
    threading.Thread(target=tell, daemon=True).start()
    list(collect(discover(Path(sys.argv[1])).sequences, FactsCache(None), ProcessExecutor(2, never_end)))
"""


def test_no_worker_outlives_its_parent(demo: Path) -> None:
    parent = subprocess.Popen([sys.executable, "-c", PARENT, demo], stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    workers = [int(word) for word in parent.stdout.readline().split()]
    assert len(workers) == 2
    parent.kill()
    parent.wait(timeout=60)
    parent.stdout.close()
    deadline = time.monotonic() + 20
    while any(is_running(pid) for pid in workers):
        assert time.monotonic() < deadline, "a worker lives on"
        time.sleep(0.05)


INTERRUPTED = """
import random, signal, sys
from pathlib import Path
from inspector.sequence.discovery.discover import discover
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.collect import collect
from inspector.sequence.run.processes import ProcessExecutor

def interrupt(*_):
    raise KeyboardInterrupt

signal.signal(signal.SIGALRM, interrupt)
sequences = discover(Path(sys.argv[1])).sequences
chance, interrupted = random.Random(1), 0
for _ in range(40):
    try:
        signal.setitimer(signal.ITIMER_REAL, chance.uniform(0.0002, 0.012))
        list(collect(sequences, FactsCache(None), ProcessExecutor(2)))
    except KeyboardInterrupt:
        interrupted += 1
print(interrupted)
"""


def test_ctrl_c_while_workers_start_prints_nothing(demo: Path) -> None:
    """In an earlier version, a worker whose start was interrupted printed a traceback in 3 to 6 of 60 attempts."""
    run = subprocess.run([sys.executable, "-c", INTERRUPTED, demo], capture_output=True, text=True, check=False)
    assert (run.returncode, run.stdout, run.stderr) == (0, "40\n", "")


UNGUARDED = """
import sys
import threading
from pathlib import Path
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.collect import collect
from inspector.sequence.discovery.discover import FrameFile, discover
from inspector.sequence.run.processes import ProcessExecutor
found = list(collect(discover(Path(sys.argv[1])).sequences, FactsCache(None), ProcessExecutor(2)))
print(len(found), sum(facts.readable for _, _, facts in found))
"""


def test_a_script_that_cannot_start_workers_reads_by_itself(demo: Path, tmp_path: Path) -> None:
    """Each worker would execute the script again, because the script has no `if __name__ == "__main__"`. Source:
    CPython documentation, multiprocessing, programming guidelines."""
    script = tmp_path / "unguarded.py"
    script.write_text(UNGUARDED)
    run = subprocess.run(
        [sys.executable, script, demo],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": "."},
        timeout=120,
    )
    assert run.stdout == "84 83\n", run.stderr


def is_running(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


def test_workers_are_used_where_they_pay(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sequences = discover(demo).sequences
    monkeypatch.setattr("inspector.sequence.run.collect.available_cores", lambda: 2)
    monkeypatch.setattr("inspector.sequence.run.collect.may_start_processes", lambda: True)
    monkeypatch.setattr(_native, "active", False)
    assert isinstance(executor_for(sequences), InlineExecutor)
    monkeypatch.setattr("inspector.sequence.run.collect.INLINE_BYTES", 1000)
    assert isinstance(executor_for(sequences), ProcessExecutor)
    monkeypatch.setattr("inspector.sequence.run.collect.WORKER_BYTES", 1000)
    assert isinstance(executor_for(sequences), InlineExecutor), "two workers on huge frames would need too much memory"
    watched = executor_for(sequences, watched=True)
    assert isinstance(watched, ProcessExecutor), "keys would wait for huge frames"
    assert (watched.workers, watched.niceness) == (1, NICENESS)


def test_threads_work_where_the_native_core_is_and_where_no_process_may_be_started(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sequences = discover(demo).sequences
    monkeypatch.setattr("inspector.sequence.run.collect.available_cores", lambda: 2)
    monkeypatch.setattr("inspector.sequence.run.collect.INLINE_BYTES", 1000)
    for native, command in ((True, True), (True, False), (False, False)):
        monkeypatch.setattr(_native, "active", native)
        monkeypatch.setattr("inspector.sequence.run.collect.may_start_processes", lambda command=command: command)
        assert isinstance(executor_for(sequences), ThreadExecutor)
        assert isinstance(executor_for(sequences, watched=True), ProcessExecutor), "keys come first"
    monkeypatch.setattr("inspector.sequence.run.collect.WORKER_BYTES", 1000)
    assert isinstance(executor_for(sequences), InlineExecutor), "two workers on huge frames would need too much memory"


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_facts_are_the_same_in_threads(demo: Path, expected: Facts, workers: int) -> None:
    assert all_facts(demo, ThreadExecutor(workers)) == expected


def test_a_stop_ends_the_threads(demo: Path) -> None:
    running, cancelled = threading.active_count(), threading.Event()
    found = collect(discover(demo).sequences, FactsCache(None), ThreadExecutor(2), cancelled.is_set)
    next(found)
    cancelled.set()
    with pytest.raises(Cancelled):
        list(found)
    deadline = time.monotonic() + 10
    while threading.active_count() > running and time.monotonic() < deadline:
        time.sleep(0.02)
    assert threading.active_count() <= running


def test_an_error_in_a_thread_reaches_the_caller(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_memory(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr("inspector.sequence.run.executors.scan", no_memory)
    with pytest.raises(MemoryError):
        list(collect(discover(demo).sequences, FactsCache(None), ThreadExecutor(2)))


FROM_STANDARD_INPUT = """
import sys
import threading
from inspector import inspect
from inspector.sequence.run import collect
from inspector import _native
collect.INLINE_BYTES = 1000
_native.active = bool({native})
collect.available_cores = lambda: 2
print(len(inspect({folder!r}).inspections))
"""


@pytest.mark.parametrize("native", [0, 1])
def test_a_script_on_standard_input_starts_no_processes(demo: Path, native: int) -> None:
    """Workers could not import such a script, because it has no file, and forkserver would print tracebacks."""
    run = subprocess.run(
        [sys.executable, "-"],
        input=FROM_STANDARD_INPUT.format(native=native, folder=str(demo)),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env={**os.environ, "PYTHONPATH": "."},
    )
    assert (run.returncode, run.stdout, run.stderr) == (0, "4\n", "")


def test_workers_give_way_where_keys_are_pressed(demo: Path, expected: Facts, monkeypatch: pytest.MonkeyPatch) -> None:
    given = []

    def executor(_: object, watched: bool = False) -> ProcessExecutor:
        given.append(watched)
        return ProcessExecutor(2, only_if_nice, NICENESS if watched else 0)

    monkeypatch.setattr("inspector.sequence.run.collect.INLINE_BYTES", 0)
    monkeypatch.setattr("inspector.sequence.run.collect.executor_for", executor)
    sequences = discover(demo).sequences
    found = {(n, index): one for n, index, one in collect(sequences, FactsCache(None), urgent=lambda: None)}
    assert found == expected
    assert given == [True]
    list(collect(sequences, FactsCache(None), InlineExecutor()))
    assert len(given) == 1
    assert all(not one.readable for _, _, one in collect(sequences, FactsCache(None))), "not nice without a screen"
