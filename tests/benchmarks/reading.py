"""Compare the time of an inspection with the time that general-purpose libraries need just to read the frames.

Run by hand: python -m tests.benchmarks.reading [--rounds N] [--case NAME] [--frames N] [--driver COMMAND] [--write]

The results are medians per frame, and ratios that are compared with the goals. An inspection reads, measures and checks
the frames without a cache. It runs in one and in two threads with the native core, and in one and in two processes
without the native core. Of the libraries, tinyobjloader parses all frames, and does not triangulate faces. The other
libraries, meshio and trimesh, parse only the first three frames, and do not process the meshes. --driver gives a
command that reads the files that are passed to it. --write writes the ratios to DEVELOPERS.md.

The page cache is warm. The readers take turns within each round, so that other load on the machine affects all of them.
CPU time is that of this process. For a single thread on a busy machine, CPU time is more reliable than the clock. A
complete `meshqc check` of the same frames, including the start of the command, is measured separately ("cold").
"""

from __future__ import annotations

import argparse
import gc
import os
import platform
import re
import shlex
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import meshio
import tinyobjloader
import trimesh

from inspector import _native
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.run.executors import Executor, InlineExecutor, ThreadExecutor
from inspector.sequence.run.processes import ProcessExecutor
from tests.benchmarks.frames import KINDS, write_sequence

# name, frames, columns, rows, kind
CASES = (
    ("small", 300, 80, 70, "stable"),
    ("large", 60, 300, 300, "stable"),
    ("vn-indices", 10, 300, 300, "vn-indices"),
    ("exponents", 10, 300, 300, "exponents"),
    ("topology", 10, 300, 300, "topology"),
)

# case, our reader, the other reader, and the goal: how many times as fast our reader should be
GOALS = (
    ("large", "native, one thread", "tinyobjloader", 4.0),
    ("large", "native, two threads", "tinyobjloader", 7.0),
    ("large", "native, one thread", "trimesh", 20.0),
    ("large", "native, two threads", "trimesh", 36.0),
    ("small", "native, two threads", "tinyobjloader", 4.0),
    ("topology", "native, one thread", "tinyobjloader", 1.5),
    ("exponents", "native, one thread", "tinyobjloader", 1.5),
    ("large", "NumPy, two processes", "NumPy, one process", 1.7),
)


@dataclass(frozen=True)
class Cost:
    """Median seconds per frame: `clock` is wall-clock time, and `cpu` is the CPU time of this process."""

    clock: float
    cpu: float


Reader = Callable[[list[Path]], int]
"""A function that reads the files and returns the number of frames that it read."""


def ours(paths: list[Path], executor: Executor) -> int:
    result = inspect_folder(paths[0].parent, executor=executor)
    assert len(result.inspections[0].series.facts) == len(paths)
    assert not result.inspections[0].verdict.failed
    return len(paths)


def without_native(paths: list[Path], executor: Executor) -> int:
    with _numpy_path():
        return ours(paths, executor)


@contextmanager
def _numpy_path() -> Iterator[None]:
    _native.active, before = False, _native.active
    try:
        yield
    finally:
        _native.active = before


def with_tinyobjloader(paths: list[Path]) -> int:
    config = tinyobjloader.ObjReaderConfig()
    config.triangulate = False
    for path in paths:
        assert tinyobjloader.ObjReader().ParseFromFile(str(path), config)
    return len(paths)


def with_trimesh(paths: list[Path]) -> int:
    for path in paths[:3]:
        trimesh.load(path, process=False)
    return 3


def with_meshio(paths: list[Path]) -> int:
    for path in paths[:3]:
        meshio.read(path)
    return 3


def cold(paths: list[Path]) -> int:
    command = [sys.executable, "-m", "inspector", "check", paths[0].parent, "--no-cache", "--fail-on", "never"]
    subprocess.run(command, check=True, capture_output=True, env={**os.environ, _native.SWITCH: "1"})
    return len(paths)


def readers(driver: str | None) -> dict[str, Reader]:
    found: dict[str, Reader] = {
        "native, one thread": lambda paths: ours(paths, InlineExecutor()),
        "native, two threads": lambda paths: ours(paths, ThreadExecutor(2)),
        "native, cold": cold,
        "NumPy, one process": lambda paths: without_native(paths, InlineExecutor()),
        "NumPy, two processes": lambda paths: without_native(paths, ProcessExecutor(2)),
        "tinyobjloader": with_tinyobjloader,
        "trimesh": with_trimesh,
        "meshio": with_meshio,
    }
    if driver is not None:

        def drive(paths: list[Path]) -> int:
            subprocess.run([*shlex.split(driver), *paths], check=True, capture_output=True)
            return len(paths)

        found["driver"] = drive
    return found


def measure(paths: list[Path], rounds: int, by_name: dict[str, Reader]) -> dict[str, Cost]:
    costs: dict[str, list[Cost]] = {name: [] for name in by_name}
    for _ in range(rounds):
        for name, reader in by_name.items():
            start, cpu = time.perf_counter(), time.process_time()
            frames = reader(paths)
            costs[name].append(Cost((time.perf_counter() - start) / frames, (time.process_time() - cpu) / frames))
    return {
        name: Cost(statistics.median(c.clock for c in mine), statistics.median(c.cpu for c in mine))
        for name, mine in costs.items()
    }


@dataclass(frozen=True)
class Ratio:
    """The time that a library needs, divided by the time of an inspection.

    `cpu` is None unless the inspection runs in one thread with the native core.
    """

    case: str
    ours: str
    theirs: str
    goal: float
    clock: float
    cpu: float | None


def ratios(found: dict[str, dict[str, Cost]]) -> list[Ratio]:
    made = []
    for case, mine, theirs, goal in GOALS:
        if case in found:
            one, other = found[case][mine], found[case][theirs]
            cpu = other.cpu / one.cpu if mine == "native, one thread" else None
            made.append(Ratio(case, mine, theirs, goal, other.clock / one.clock, cpu))
    return made


DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"
TABLE = re.compile(r"(?<=<!-- tests.benchmarks.reading -->\n).*?(?=<!-- end -->)", re.DOTALL)


def write(made: list[Ratio], load: float) -> None:
    rows = [
        f"Written {time.strftime('%Y-%m-%d')} by `python -m tests.benchmarks.reading --write`; Python "
        f"{platform.python_version()}, {os.cpu_count()} cores, load of the machine up to {load:.1f}.",
        "",
        "| frames | ours | against | goal | by the clock | by CPU time |",
        "|---|---|---|---|---|---|",
        *(
            f"| {one.case} | {one.ours} | {one.theirs} | {one.goal:g}x | {one.clock:.1f}x | "
            f"{'' if one.cpu is None else f'{one.cpu:.1f}x'} |"
            for one in made
        ),
    ]
    text, count = TABLE.subn(lambda _: "\n".join(rows) + "\n", DEVELOPERS.read_text("utf8"))
    assert count == 1, f"{DEVELOPERS} has no place for the table"
    DEVELOPERS.write_text(text, "utf8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--case", choices=[case[0] for case in CASES])
    parser.add_argument("--frames", type=int, help="at most so many frames in each case")
    parser.add_argument("--driver", help="a command that reads the files given to it")
    parser.add_argument("--write", action="store_true", help="write the ratios into DEVELOPERS.md")
    options = parser.parse_args()
    assert _native.active, _native.description()
    os.environ[_native.SWITCH] = "0"  # for the worker processes, whose server is started by the first executor
    gc.freeze()  # so that no garbage collection searches the many objects of the other readers' packages
    found: dict[str, dict[str, Cost]] = {}
    load = 0.0
    for name, count, columns, rows, kind in CASES:
        if options.case not in (None, name):
            continue
        frames = min(count, options.frames or count)
        with tempfile.TemporaryDirectory() as folder:
            paths = write_sequence(Path(folder), frames, columns, rows, kind)
            size = paths[0].stat().st_size / 1e6
            print(f"{name}: {frames} frames of {columns * rows:,} vertices, {size:.1f} MB each: {KINDS[kind]}")
            found[name] = measure(paths, options.rounds, readers(options.driver))
        load = max(load, os.getloadavg()[0])
        print(f"  load of the machine {os.getloadavg()[0]:.1f}")
        print(f"  {'':22} {'ms per frame':>14} {'CPU ms':>10}")
        for reader, cost in found[name].items():
            print(f"  {reader:22} {1e3 * cost.clock:14.2f} {1e3 * cost.cpu:10.2f}", flush=True)
    made = ratios(found)
    print(f"\n{'case':11} {'ours':22} {'theirs':20} {'goal':>6} {'clock':>7} {'CPU':>7}")
    for one in made:
        cpu = "" if one.cpu is None else f"{one.cpu:6.1f}x"
        print(f"{one.case:11} {one.ours:22} {one.theirs:20} {one.goal:5.1f}x {one.clock:6.1f}x {cpu:>7}")
    if options.write:
        write(made, load)


if __name__ == "__main__":
    main()
