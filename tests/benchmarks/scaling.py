"""Measure whether time and memory per frame stay constant for long sequences. Large frames and reopened folders are
also measured.

Run by hand: python -m tests.benchmarks.scaling [--case NAME]

Each run is a separate process without workers. Its peak memory is read from VmHWM (Linux), because getrusage would
include the process that started the run. The frames are hard links to a few files, so that these files stay in the page
cache. Therefore, the speed of the disk hardly affects the results.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.frames import write_sequence

RUN = """
import sys, time
from pathlib import Path
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.executors import InlineExecutor

def main():
    cache = FactsCache(Path(sys.argv[2]) if len(sys.argv) > 2 else None)
    first = []
    start = time.perf_counter()
    result = inspect_folder(Path(sys.argv[1]), cache=cache, executor=InlineExecutor(),
                            progress=lambda *_: first or first.append(time.perf_counter() - start))
    seconds = time.perf_counter() - start
    cache.close()
    frames = len(result.inspections[0].series.facts)
    assert not result.inspections[0].verdict.failed
    status = Path("/proc/self/status").read_text()
    peak = int(status.split("VmHWM:")[1].split()[0]) * 1024 / 1e6
    print(f"{frames:6,} frames {seconds:8.2f} s {1e3 * seconds / frames:8.2f} ms a frame, first facts after "
          f"{first[0]:.2f} s, peak {peak:.0f} MB", flush=True)

if __name__ == "__main__":
    main()
"""

# name, distinct files, frames, columns, rows
CASES = (
    ("length", 50, (100, 1000, 10_000), 30, 20),
    ("memory", 20, (200, 2000), 160, 125),
    ("huge", 3, (3,), 1600, 1250),
)


def many(folder: Path, distinct: list[Path], count: int) -> Path:
    out = folder / f"frames{count}"
    out.mkdir()
    for number in range(count):
        os.link(distinct[number % len(distinct)], out / f"sheet.{number + 1:05d}.obj")
    return out


def run(*words: str | Path) -> None:
    subprocess.run([sys.executable, "-c", RUN, *words], check=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--case", choices=[case[0] for case in CASES])
    chosen = parser.parse_args().case
    for name, distinct, counts, columns, rows in CASES:
        if chosen not in (None, name):
            continue
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            (folder / "distinct").mkdir()
            files = write_sequence(folder / "distinct", distinct, columns, rows)
            for path in files:
                os.utime(path, (1_700_000_000, 1_700_000_000))
            print(f"{name}: frames of {columns * rows:,} vertices, {files[0].stat().st_size / 1e6:.1f} MB", flush=True)
            for count in counts:
                frames = many(folder, files, count)
                run(frames, folder / f"cache{count}")
                if count > 1000:
                    print("   the same, re-opened:", flush=True)
                    run(frames, folder / f"cache{count}")


if __name__ == "__main__":
    main()
