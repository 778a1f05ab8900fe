"""A verdict against a bare read by general-purpose libraries, in one run: medians per frame, and ratios.

By hand: python -m tests.benchmarks.reading [--rounds N]
Ours: discover, read, measure and all checks, no cache. Theirs: one parse a frame (meshio and trimesh without
processing, tinyobjloader without triangulation). The page cache is warm. The machine's noise hits all alike, since the
readers take turns within each round.
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

from inspector.checks.base.inspect import inspect_folder
from tests.benchmarks.frames import write_sequence

CASES = ((60, 80, 70), (10, 300, 300))  # frames, columns, rows: 5,600 and 90,000 vertices


def ours(paths: list[Path]) -> None:
    result = inspect_folder(paths[0].parent)
    assert len(result.inspections[0].series.facts) == len(paths)
    assert not result.inspections[0].verdict.failed


def with_tinyobjloader(paths: list[Path]) -> None:
    for path in paths:
        reader = tinyobjloader.ObjReader()
        config = tinyobjloader.ObjReaderConfig()
        config.triangulate = False
        assert reader.ParseFromFile(str(path), config)


def with_trimesh(paths: list[Path]) -> None:
    for path in paths:
        trimesh.load(path, process=False)


def with_meshio(paths: list[Path]) -> None:
    for path in paths:
        meshio.read(path)


READERS: dict[str, Callable[[list[Path]], None]] = {
    "meshqc, all checks": ours,
    "tinyobjloader": with_tinyobjloader,
    "trimesh": with_trimesh,
    "meshio": with_meshio,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    for frames, columns, rows in CASES:
        with tempfile.TemporaryDirectory() as folder:
            paths = write_sequence(Path(folder), frames, columns, rows)
            megabytes = paths[0].stat().st_size / 1e6
            times: dict[str, list[float]] = {name: [] for name in READERS}
            for _ in range(rounds):
                for name, reader in READERS.items():
                    start = time.perf_counter()
                    reader(paths)
                    times[name].append((time.perf_counter() - start) / frames)
        print(f"{frames} frames of {columns * rows:,} vertices, {megabytes:.1f} MB each, median of {rounds} rounds")
        mine = statistics.median(times["meshqc, all checks"])
        for name, values in times.items():
            median = statistics.median(values)
            print(f"  {name:20} {1e3 * median:8.1f} ms a frame   {median / mine:5.1f} x")


if __name__ == "__main__":
    main()
