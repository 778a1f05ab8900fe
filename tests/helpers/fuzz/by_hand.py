"""Numbered random cases. A single case can be repeated by its number."""

from __future__ import annotations

import argparse
import random
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path

Case = Callable[[Path, random.Random], Iterable[str]]
"""A function that runs a case in an empty folder, and returns the names of the operations that it tried."""


def run_cases(run: Case, first: int, stop: int, seed: int) -> tuple[list[str], Counter[str]]:
    """Run the cases from `first` up to but not including `stop`, with warnings as errors.

    Returns:
        One line per failed case (also printed immediately), and how often each operation was tried.
    """
    failed: list[str] = []
    tried: Counter[str] = Counter()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for case in range(first, stop):
            if case > first and case % 1000 == 0:
                print(f"{case - first:,} cases, {len(failed)} failed", flush=True)
            with tempfile.TemporaryDirectory() as folder:
                try:
                    tried.update(run(Path(folder), random.Random(f"{seed} {case}")))
                except Exception as error:
                    trace = traceback.extract_tb(error.__traceback__)[-4:]
                    places = " ".join(f"{Path(at.filename).name}:{at.lineno}" for at in trace)
                    failed.append(f"seed {seed}, case {case}: {type(error).__name__}: {error} ({places})")
                    print(failed[-1], flush=True)
    return failed, tried


def main(run: Case, cases: int) -> None:
    """Parse the command line of a module that runs random cases, and run the cases."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--cases", type=int, default=cases)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(10**9))
    options = parser.parse_args()
    start = time.monotonic()
    print(f"seed {options.seed}", flush=True)
    failed, tried = run_cases(run, options.first, options.first + options.cases, options.seed)
    print(
        f"{options.cases:,} cases, {len(failed)} failed, {time.monotonic() - start:.0f} s; {dict(tried.most_common())}"
    )
