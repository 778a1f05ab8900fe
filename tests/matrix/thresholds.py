"""Find changes to thresholds that no test notices.

Run by hand: `python -m tests.matrix.thresholds [NAME ...]`. Every threshold that a check declares is halved and
doubled. For each change, the tests that read the threshold run until one of them fails, or until BUDGET is spent.

Tests that read few thresholds run before tests that read many. Within each of these two groups, the tests of the checks
that declare the threshold run first. Otherwise, faster tests run before slower tests.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import time
import traceback
from bisect import bisect
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import accumulate
from pathlib import Path
from typing import Any

import pytest

from tests.helpers.changed_threshold import change, declared, scaled, watch

ROOT = Path(__file__).parents[2]
FACTORS = (0.5, 2.0)
JUDGING = ("tests/checks", "tests/sequence/materials", "tests/sequence/measure", "tests/surface")
"""Folders with tests that judge findings."""
NOT_JUDGING = "tests/checks/base/test_registry.py"
"""A module below a folder of JUDGING. Its tests don't judge findings; they check texts that contain every threshold."""
FEW = 5
"""A test that reads at most this many thresholds was probably written for one of them."""
BUDGET = 20.0
"""Maximum CPU time, in seconds, of the tests for one change. A change that only slow tests notice counts as
unnoticed."""


class Trial:
    """Pytest plugin that changes thresholds and runs the tests that read them.

    Attributes:
        missed: After the run, the changes that no test noticed.
        tried: After the run, the number of changes.
    """

    def __init__(self, names: Sequence[str], jobs: int) -> None:
        self.names = names
        self.jobs = jobs
        self.missed: list[str] = []
        self.tried = 0
        self._read: set[str] = set()
        self._read_by_fixture: dict[str, set[str]] = defaultdict(set)
        self._failed = False

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef[Any]) -> Iterator[None]:
        """If a fixture reads a threshold, record this for every test that uses the fixture, not only for the first."""
        before = set(self._read)
        self._read.clear()
        try:
            return (yield)
        finally:
            self._read_by_fixture[fixturedef.argname] |= self._read
            self._read |= before

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self._failed = True
            print(report.longreprtext)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        reads, seconds = self._reads(session)
        changes = {}
        for threshold, checks in declared():
            if threshold.name not in self.names:
                continue
            own = {f"test_{check.replace('-', '_')}.py" for check in checks}
            tests = [item for item in session.items if threshold.name in reads[item.nodeid]]
            tests.sort(
                key=lambda item: (len(reads[item.nodeid]) > FEW, item.path.name not in own, seconds[item.nodeid])
            )
            spent = list(accumulate(seconds[item.nodeid] for item in tests))
            tests = tests[: bisect(spent, BUDGET) + 1]
            for factor in FACTORS:
                what = f"{threshold.name} * {factor:g} ({', '.join(checks)})"
                if scaled(threshold.value, factor) == threshold.value:
                    print(f"{what}: stays {threshold.value}, so it can't be tried", flush=True)
                else:
                    changes[what] = (threshold, factor, tests)

        def noticed(what: str) -> str:
            threshold, factor, tests = changes[what]
            change(threshold, factor)
            for item in self._run(tests):
                if self._failed:
                    return item.nodeid
            return ""

        for what, by in in_processes(noticed, list(changes), self.jobs):
            if not by:
                self.missed.append(what)
                print(f"{what}: none of the {len(changes[what][2])} fastest tests that read it notices", flush=True)
        self.tried = len(changes)
        return True

    def _reads(self, session: pytest.Session) -> tuple[dict[str, set[str]], dict[str, float]]:
        """Return the thresholds that each test reads, and the CPU seconds that it takes. End the program if a test
        fails."""
        modules: dict[Path, list[pytest.Item]] = defaultdict(list)
        for item in session.items:
            modules[item.path].append(item)

        def of_module(path: Path) -> list[Any]:
            watch(self._read)
            found, start = [], time.process_time()
            for item in self._run(modules[path]):
                if self._failed:
                    raise SystemExit(f"{item.nodeid} fails without any change")
                fixtures: list[str] = getattr(item, "fixturenames", [])
                read = self._read.union(*(self._read_by_fixture[name] for name in fixtures))
                found.append((item.nodeid, sorted(read), time.process_time() - start))
                self._read.clear()
                start = time.process_time()
            return found

        reads, seconds = {}, {}
        for _, found in in_processes(of_module, list(modules), self.jobs):
            for test, read, took in found:
                reads[test], seconds[test] = set(read), took
        print(f"{len(reads)} tests in {sum(seconds.values()):.0f} s of CPU", flush=True)
        return reads, seconds

    def _run(self, items: Sequence[pytest.Item]) -> Iterator[pytest.Item]:
        """Run the tests, and yield each test after it has run."""
        for item, following in zip(items, [*items[1:], None], strict=True):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            yield item


def in_processes(work: Callable[[Any], Any], tasks: Iterable[Any], jobs: int) -> Iterator[tuple[Any, Any]]:
    """Run each task in a forked process, `jobs` at a time. Yield each task with the result of `work`, converted to JSON
    and back."""
    left, running = list(enumerate(tasks)), {}
    with tempfile.TemporaryDirectory() as place:
        while left or running:
            while left and len(running) < jobs:
                number, task = left.pop(0)
                folder = Path(place, str(number))
                folder.mkdir()
                sys.stdout.flush()
                child = os.fork()
                if not child:
                    _become(work, task, folder)
                running[child] = task, folder
            child, status = os.wait()
            task, folder = running.pop(child)
            if status:
                raise RuntimeError(f"{task}: {(folder / 'said').read_text()[-3000:]}")
            yield task, json.loads((folder / "result").read_text())


def _become(work: Callable[[Any], Any], task: Any, folder: Path) -> None:
    code = 1
    os.environ["PYTEST_DEBUG_TEMPROOT"] = str(folder)
    said = os.open(folder / "said", os.O_CREAT | os.O_WRONLY)
    os.dup2(said, 1)
    os.dup2(said, 2)
    try:
        (folder / "result").write_text(json.dumps(work(task)))
        code = 0
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        os._exit(code)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.matrix.thresholds", description=__doc__)
    parser.add_argument("names", nargs="*", help="only these thresholds (lower case, with hyphens)")
    parser.add_argument("--jobs", type=int, default=os.cpu_count(), help="processes side by side (default: all cores)")
    options = parser.parse_args()
    known = [threshold.name for threshold, _ in declared()]
    unknown = set(options.names) - set(known)
    if unknown:
        parser.error(f"no check declares {', '.join(sorted(unknown))}")
    trial = Trial(options.names or known, options.jobs)
    code = pytest.main(["-q", "-s", "-p", "no:cacheprovider", f"--ignore={NOT_JUDGING}", *JUDGING], plugins=[trial])
    if code not in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED) or not trial.tried:
        raise SystemExit("the trial broke off: nothing is known about the thresholds")
    print(f"{len(trial.missed)} of {trial.tried} changes go unnoticed")
    raise SystemExit(bool(trial.missed))


if __name__ == "__main__":
    main()
