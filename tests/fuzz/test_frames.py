"""Tests of frames that are broken at random. Two readers must agree on each frame.

To test a hundred thousand frames, run `python -m tests.helpers.fuzz.cases` by hand.
"""

from __future__ import annotations

import random

from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fuzz.cases import GOOD, run_cases, same_as_plain
from tests.helpers.fuzz.plain_reader import read_plainly


def test_good_frames_read_alike() -> None:
    for data in GOOD:
        same_as_plain(read_frame(data), data)
    plain = read_plainly(b"v 1 2 3\nv 4 5 6\nv 7 8 9 0.5\nvt 0.25\nusemtl a b\nf 1/1 -2//9 3\n")
    assert plain.positions == [(1, 2, 3), (4, 5, 6), (7, 8, 9)]
    assert plain.uvs == [(0.25, 0.0)]
    assert plain.faces == [[(0, 0, -1), (1, -1, -1), (2, -1, -1)]]
    assert plain.materials == [b"a b"]


def test_hundreds_of_broken_frames() -> None:
    seed = random.SystemRandom().randrange(10**9)
    print(f"seed {seed}, 400 cases")  # pytest shows it if the test fails
    read = run_cases(400, seed)
    assert 150 < read < 400, "both sides are tried: frames that read, and frames that are refused"
