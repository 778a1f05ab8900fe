"""Compare the cost of all checks with that of the first twenty checks, and measure the cost of each check.

Run by hand: python -m tests.benchmarks.checks [--frames N] [--rounds N] [--kind KIND] [--textured]

The frames have 90,000 vertices. Everything runs in one process without a cache, and process time is measured. Each
round measures the first twenty checks and then all checks, so that other load on the machine affects both. The results
are medians. The scan for the first twenty checks leaves out the measures in LATER. The time of a check doesn't include
the measurement of the facts.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

from inspector.checks.base.registry import all_checks
from inspector.checks.base.runner import run_checks
from inspector.inspection import inspection
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.measure import measure, surface_facts, uv_facts
from inspector.sequence.run.executors import InlineExecutor
from tests.benchmarks.frames import KINDS, write_sequence
from tests.helpers.images import image_file, spots

FIRST = (
    *("bad-number", "centre-jump", "face-count", "frozen", "index-range", "library-missing", "material-undefined"),
    *("missing-frames", "no-uvs", "changed-faces", "partial-uvs", "repeated-frames", "scale-suspect", "size-jump"),
    *("texture-missing", "unreadable", "uv-index-range", "uv-mismatch", "uv-values", "vertex-count"),
)

NO_SIZES = {"edge_length": 0.0, "area": 0.0, "volume": 0.0}
NO_CONNECTIONS = {"components": 0, "boundary_edges": 0, "non_manifold_edges": 0, "unused_vertices": 0, "face_set": b""}
NO_LAYOUT = {"uv_box": None, "uv_tiles": 0, "uv_mirrored": 0.0, "uv_overlap": 0.0}

LATER: dict[str, tuple[object, str, object]] = {
    "connections": (surface_facts, "_connections", (NO_CONNECTIONS, [])),
    "shapes of faces": (surface_facts, "_sizes", (NO_SIZES, [])),
    "UV layout": (uv_facts, "uv_values", (NO_LAYOUT, [])),
    "ways of UVs": (uv_facts, "uv_step", None),
    "normals": (surface_facts, "_normal_faults", []),
    "faces without normals": (surface_facts, "_faces_without_normals", ()),
    "groups": (surface_facts, "groups", ()),
    "smoothing": (surface_facts, "smoothing", b""),
    "text form": (measure, "form_problems", ()),
    "line ends": (measure, "line_end", ""),
    "decimals": (measure, "fixed_decimals", None),
    "header": (measure, "_header_digest", b""),
    "repeated corners": (measure, "_repeated_corners", ()),
}
"""The measures that the first twenty checks don't need.

Each entry has a module, the name of a function in it, and the value to use instead of the function's result.
"""


@contextmanager
def without_later() -> Iterator[None]:
    with ExitStack() as stack:
        for place, name, value in LATER.values():
            stack.enter_context(patch.object(place, name, lambda *_, value=value: value))
        yield


def full(folder: Path) -> None:
    result = inspect_folder(folder, executor=InlineExecutor())
    assert not result.inspections[0].verdict.failed


def first_twenty(folder: Path) -> None:
    checks = tuple(check for check in all_checks() if check.id in FIRST)
    assert len(checks) == len(FIRST) == 20
    with without_later(), patch.object(inspection, "all_checks", lambda: checks):
        full(folder)


def process_time(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def measure_times(folder: Path) -> dict[str, float]:
    times = dict.fromkeys(LATER, 0.0)
    with ExitStack() as stack:
        for measure, (place, name, _) in LATER.items():
            stack.enter_context(patch.object(place, name, timed(getattr(place, name), measure, times)))
        full(folder)
    return times


def timed(work: Callable[..., Any], name: str, times: dict[str, float]) -> Callable[..., Any]:
    """Return a function that calls `work` and adds the process time to `times`.

    If `work` returns an iterator, it is read to its end, so that its time is included.
    """

    def run(*given: Any) -> Any:
        start = time.process_time()
        result = work(*given)
        result = list(result) if isinstance(result, Iterator) else result
        times[name] += time.process_time() - start
        return result

    return run


def check_times(folder: Path, rounds: int) -> dict[str, float]:
    """Return the seconds that each check takes. The time includes work that the check shares with other checks."""
    one = inspect_folder(folder, executor=InlineExecutor()).inspections[0].context
    times = {}
    for check in all_checks():
        rows = []
        for _ in range(rounds):
            context = type(one)(one.series, one.settings, one.resolver, one.siblings, one.marks)
            rows.append(process_time(lambda check=check, context=context: run_checks(context, [check])))
        times[check.id] = statistics.median(rows)
    return times


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--frames", type=int, default=10)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--kind", choices=KINDS, default="stable")
    parser.add_argument("--textured", action="store_true", help="with a library and a colour map")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        paths = write_sequence(folder, options.frames, 300, 300, options.kind)
        if options.textured:
            texture(paths)
        report(folder, options.frames, options.rounds)


def texture(paths: list[Path]) -> None:
    folder = paths[0].parent
    (folder / "sheet.mtl").write_text("newmtl skin\nKd 1 1 1\nmap_Kd skin.png\n")
    (folder / "skin.png").write_bytes(image_file(spots(96, 64)))
    for path in paths:
        path.write_bytes(b"mtllib sheet.mtl\nusemtl skin\n" + path.read_bytes())


def report(folder: Path, frames: int, rounds: int) -> None:
    ways: dict[str, Callable[[Path], None]] = {"first twenty": first_twenty, "all": full}
    pairs = [{name: process_time(lambda way=way: way(folder)) for name, way in ways.items()} for _ in range(rounds)]
    for name in ways:
        print(f"{name:24} {1e3 * statistics.median(pair[name] for pair in pairs) / frames:8.1f} ms a frame")
    print(f"{'ratio':24} {statistics.median(pair['all'] / pair['first twenty'] for pair in pairs):8.2f}")
    print("\nms a frame spent in measures of later checks")
    scans = [measure_times(folder) for _ in range(rounds)]
    for later in LATER:
        print(f"  {later:22} {1e3 * statistics.median(scan[later] for scan in scans) / frames:8.2f}")
    print("\nms of a check on its own, for all frames together; the dearest ten")
    times = check_times(folder, rounds)
    for identifier in sorted(times, key=lambda one: -times[one])[:10]:
        print(f"  {identifier:22} {1e3 * times[identifier]:8.1f}")
    print(f"  {'all others':22} {1e3 * sum(sorted(times.values())[:-10]):8.1f}")


if __name__ == "__main__":
    main()
