"""Fuzz the reading of frames: each case checks properties that hold for any content of a file.

Run by hand: `python -m tests.helpers.fuzz.cases [--cases 100000] [--seed N]`
"""

from __future__ import annotations

import argparse
import random
import time
import warnings
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np

from inspector.formats.frame import Frame
from inspector.formats.problems import KINDS, UnreadableFrame
from inspector.formats.wavefront.reader import ObjReader, read_frame
from inspector.formats.wavefront.writer import write_frame
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.measure import Known, measure
from tests.helpers.fuzz.mutations import good_frames, mutated
from tests.helpers.fuzz.plain_reader import read_plainly

FILE = FrameFile(Fraction(1), Path("/nowhere"), 1, 1)
GOOD = good_frames()
WIDE = (b"\xff\xfe", b"\xfe\xff")


def run_case(good: bytes, chance: random.Random) -> bool:
    """Break a good frame, read it, and check all properties. Return whether the frame could be read."""
    data = mutated(good, chance)
    reader = ObjReader()
    before = reader.read(good)
    known = Known(before, measure(before, FILE))
    try:
        frame = reader.read(data)
    except UnreadableFrame as refused:
        KINDS[refused.problem.kind]
        return False
    same_frame(frame, read_frame(data))
    if frame.encoding is None:
        same_as_plain(frame, data)
        assert write_frame(frame) == data
    measure(frame, FILE, before, known)
    return True


def same_frame(shared: Frame, alone: Frame) -> None:
    for name in ("positions", "uvs", "normals"):
        assert getattr(shared, name).tobytes() == getattr(alone, name).tobytes(), name
    for name in ("offsets", "v", "vt", "vn"):
        assert np.array_equal(getattr(shared.corners, name), getattr(alone.corners, name)), name
    assert shared.blocks == alone.blocks
    assert shared.runs == alone.runs
    assert shared.problems == alone.problems


def same_as_plain(frame: Frame, data: bytes) -> None:
    plain = read_plainly(data)
    for found, wanted in ((frame.positions, plain.positions), (frame.uvs, plain.uvs), (frame.normals, plain.normals)):
        expected = np.array(wanted, np.float64).reshape(found.shape)
        assert np.array_equal(found, expected, equal_nan=True)
        assert np.array_equal(np.signbit(found[found == 0]), np.signbit(expected[expected == 0]))
    offsets = frame.corners.offsets
    rows = np.stack([frame.corners.v, frame.corners.vt, frame.corners.vn], axis=-1).tolist()
    faces = [[tuple(corner) for corner in rows[a:b]] for a, b in pairwise(offsets.tolist())]
    assert faces == plain.faces
    materials = [run.material and run.material.raw for run in frame.runs for _ in range(run.start, run.stop)]
    assert materials == plain.materials


def run_cases(cases: int, seed: int) -> int:
    """Run cases, and return how many of the broken frames could be read."""
    read = 0
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for case in range(cases):
            chance = random.Random(f"{seed}:{case}")
            try:
                read += run_case(chance.choice(GOOD), chance)
            except Exception as error:
                raise AssertionError(f"seed {seed}, case {case}") from error
    return read


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(10**9))
    options = parser.parse_args()
    print(f"seed {options.seed}, {options.cases:,} cases", flush=True)
    start = time.process_time()
    read = run_cases(options.cases, options.seed)
    took = time.process_time() - start
    print(f"{options.cases:,} cases held, {read:,} of them read, the others refused; {took:.0f} s")


if __name__ == "__main__":
    main()
