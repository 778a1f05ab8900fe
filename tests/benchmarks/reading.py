"""A verdict against a bare read by general-purpose libraries, in one run: medians per frame, and ratios.

By hand: python -m tests.benchmarks.reading [--rounds N] [--case NAME]
Ours: discover, read, measure and all checks, no cache, with one process and with two. Theirs: one parse a frame (meshio
and trimesh without processing, tinyobjloader without triangulation). The page cache is warm. The readers take turns
within each round, so that the machine's noise hits all alike.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import meshio
import tinyobjloader
import trimesh

from inspector.inspection.inspection import inspect_folder
from inspector.sequence.run.executors import Executor, InlineExecutor, ProcessExecutor
from tests.benchmarks.frames import KINDS, write_sequence

# name, frames, columns, rows, kind
CASES = (
    ("small", 60, 80, 70, "stable"),
    ("large", 10, 300, 300, "stable"),
    ("many", 60, 300, 300, "stable"),
    ("vn-indices", 10, 300, 300, "vn-indices"),
    ("exponents", 10, 300, 300, "exponents"),
    ("topology", 10, 300, 300, "topology"),
)


def ours(paths: list[Path], executor: Executor) -> None:
    result = inspect_folder(paths[0].parent, executor=executor)
    assert len(result.inspections[0].series.facts) == len(paths)
    assert not result.inspections[0].verdict.failed


def with_tinyobjloader(paths: list[Path]) -> None:
    config = tinyobjloader.ObjReaderConfig()
    config.triangulate = False
    for path in paths:
        assert tinyobjloader.ObjReader().ParseFromFile(str(path), config)


def with_trimesh(paths: list[Path]) -> None:
    for path in paths:
        trimesh.load(path, process=False)


def with_meshio(paths: list[Path]) -> None:
    for path in paths:
        meshio.read(path)


READERS: dict[str, Callable[[list[Path]], None]] = {
    "ours, one process": lambda paths: ours(paths, InlineExecutor()),
    "ours, two workers": lambda paths: ours(paths, ProcessExecutor(2)),
    "tinyobjloader": with_tinyobjloader,
    "trimesh": with_trimesh,
    "meshio": with_meshio,
}


def measure(paths: list[Path], rounds: int) -> dict[str, float]:
    """Median seconds a frame of each reader."""
    times: dict[str, list[float]] = {name: [] for name in READERS}
    for _ in range(rounds):
        for name, reader in READERS.items():
            start = time.perf_counter()
            reader(paths)
            times[name].append((time.perf_counter() - start) / len(paths))
    return {name: statistics.median(values) for name, values in times.items()}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--case", choices=[case[0] for case in CASES])
    options = parser.parse_args()
    for name, frames, columns, rows, kind in CASES:
        if options.case not in (None, name):
            continue
        with tempfile.TemporaryDirectory() as folder:
            paths = write_sequence(Path(folder), frames, columns, rows, kind)
            size = paths[0].stat().st_size / 1e6
            print(f"{name}: {frames} frames of {columns * rows:,} vertices, {size:.1f} MB each: {KINDS[kind]}")
            seconds = measure(paths, options.rounds)
        print(f"  {'':20} {'ms a frame':>10} {'to one process':>16} {'to two workers':>16}")
        for reader, value in seconds.items():
            one, two = (value / seconds[mine] for mine in list(READERS)[:2])
            print(f"  {reader:20} {1e3 * value:10.1f} {one:14.1f} x {two:14.1f} x", flush=True)


if __name__ == "__main__":
    main()
