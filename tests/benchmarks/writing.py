"""Compare how long `write_frame` and `numpy.savetxt` take to write changed positions.

Run by hand: python -m tests.benchmarks.writing [--rounds N]

`write_frame` writes a whole frame of 90,000 vertices whose positions were multiplied by a constant. `numpy.savetxt`
writes only the positions, to memory. Both must write the same bytes for the positions. The writers take turns within
each round. The result for a writer is its shortest process time.
"""

from __future__ import annotations

import argparse
import io
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from inspector.formats.frame import Frame
from inspector.formats.wavefront.reader import read_frame
from inspector.formats.wavefront.writer import write_frame
from tests.benchmarks.frames import write_sequence

# the change to the positions, its factor, and the number of decimal places
CASES = (
    ("centimetres to metres", 0.01, 8),
    ("inches to centimetres", 2.54, 6),
    ("metres to centimetres", 100.0, 6),
    ("as many decimals as a float64 may need", 0.3048, 12),
)
WARM = 3
"""Number of rounds at the start that aren't counted, because they also allocate memory that later rounds reuse."""


def seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def with_numpy(frame: Frame, decimals: int) -> bytes:
    file = io.BytesIO()
    np.savetxt(file, frame.positions, fmt="v" + f" %.{decimals}f" * 3)
    return file.getvalue()


def measure(frame: Frame, decimals: int, rounds: int) -> tuple[int, float, float]:
    """Return the number of bytes of the changed block, and the shortest times of `write_frame` and NumPy, in
    seconds."""
    block = with_numpy(frame, decimals)
    assert block in write_frame(frame)
    ours, theirs = [], []
    for _ in range(WARM + rounds):
        ours.append(seconds(lambda: write_frame(frame)))
        theirs.append(seconds(lambda: with_numpy(frame, decimals)))
    return len(block), min(ours[WARM:]), min(theirs[WARM:])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=9)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        (path,) = write_sequence(Path(folder), 1, 300, 300)
        frame = read_frame(path.read_bytes())
    print(f"{'90,000 vertices':42} {'MB':>5} {'ours MB/s':>10} {'savetxt MB/s':>13} {'ratio':>6}")
    for name, factor, decimals in CASES:
        changed = frame.replace(positions=frame.positions * factor, decimals={b"v": decimals})
        size, ours, theirs = measure(changed, decimals, options.rounds)
        rates = [size / 1e6 / one for one in (ours, theirs)]
        print(f"{name:42} {size / 1e6:5.1f} {rates[0]:10.0f} {rates[1]:13.0f} {theirs / ours:6.1f}", flush=True)


if __name__ == "__main__":
    main()
