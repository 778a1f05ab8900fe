"""Which changes of a threshold no test notices. By hand: `python -m tests.matrix.thresholds [NAME ...]`.

Every threshold that a check declares is halved and doubled, one at a time, and the tests that judge findings run
against it until one fails: first those of the checks that declare it, then the rest. All of them take about an hour.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

from tests.helpers.changed_threshold import VARIABLE, declared, scaled

ROOT = Path(__file__).parents[2]
FACTORS = (0.5, 2.0)
JUDGING = ("tests/checks", "tests/matrix", "tests/sequence", "tests/surface")
"""Folders of tests that judge what is found. Others compare the words of `explain`, which name each value."""
NOT_JUDGING = ("tests/checks/base/test_registry.py", "tests/matrix/thresholds.py")


def own_tests(checks: Iterable[str]) -> list[str]:
    """The test modules named after these checks."""
    names = {f"test_{check.replace('-', '_')}.py" for check in checks}
    return [str(path.relative_to(ROOT)) for path in sorted(ROOT.glob("tests/checks/*/*.py")) if path.name in names]


def passes(name: str, factor: float, tests: Iterable[str]) -> bool:
    """Whether all these tests pass with the threshold changed. Tests that can't run at all are an error."""
    ignored = [f"--ignore={path}" for path in NOT_JUDGING]
    command = [sys.executable, "-m", "pytest", "-qx", "-p", "tests.helpers.changed_threshold", "-p", "no:cacheprovider"]
    environment = os.environ | {VARIABLE: f"{name}*{factor}", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [*command, *ignored, *tests], cwd=ROOT, env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode not in (0, 1):  # pytest: 0 all passed, 1 some failed
        raise RuntimeError(f"{name} * {factor}: {done.stdout[-2000:]}{done.stderr[-2000:]}")
    return done.returncode == 0


def unnoticed(checks: dict[str, set[str]], change: tuple[str, float]) -> bool:
    name, factor = change
    first = own_tests(checks[name])
    return (not first or passes(name, factor, first)) and passes(name, factor, JUDGING)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.matrix.thresholds", description=__doc__)
    parser.add_argument("names", nargs="*", help="only these thresholds (lower case, with hyphens)")
    parser.add_argument("--jobs", type=int, default=2, help="runs side by side (default: 2)")
    options = parser.parse_args()
    checks: dict[str, set[str]] = defaultdict(set)
    changes: dict[tuple[str, float], None] = {}
    for name, check, threshold in declared():
        checks[name].add(check)
        for factor in FACTORS:
            if options.names and name not in options.names:
                continue
            if scaled(threshold.value, factor) == threshold.value:
                print(f"{name} * {factor:g}: stays {threshold.value}, so it can't be tried", flush=True)
            else:
                changes[name, factor] = None
    missed = []
    with ThreadPoolExecutor(options.jobs) as pool:
        for (name, factor), missing in zip(changes, pool.map(partial(unnoticed, checks), changes), strict=True):
            if missing:
                missed.append(name)
                print(f"{name} * {factor:g}: no test notices it ({', '.join(sorted(checks[name]))})", flush=True)
    print(f"{len(missed)} of {len(changes)} changes go unnoticed")
    raise SystemExit(bool(missed))


if __name__ == "__main__":
    main()
