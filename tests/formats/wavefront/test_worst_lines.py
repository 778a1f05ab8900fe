"""Tests of lines of extreme length, as a broken writer or an attacker may write them (no source)."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from inspector import _native
from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.indices import read_faces
from inspector.formats.wavefront.indices_plain import read_lines
from inspector.formats.wavefront.reader import read_frame

TRIANGLE = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"


def test_numbers_beyond_the_last_that_counts_are_counted_and_not_kept() -> None:
    text = TRIANGLE + b"v" + b" 1" * 1_000_000 + b"\n"
    tracemalloc.start()
    frame = read_frame(text)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    (problem,) = (one for one in frame.problems if one.kind == "bad-number")
    assert problem.count == 1_000_000 - 7  # x y z, and at most a weight and a colour
    assert problem.places[0].line == 5
    assert peak < 20 * len(text)


@pytest.mark.parametrize("keyword", [b"v", b"vt", b"vn", b"f"])
def test_a_line_beyond_the_bound_is_refused_with_its_number(keyword: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspector.formats.wavefront.pieces.LINE_BYTES", 1_000_000)
    good = keyword + b" 1 2 3\n"
    text = TRIANGLE + good * 3 + keyword + b" 1" * 600_000 + b"\n" + good
    with pytest.raises(UnreadableFrame) as refused:
        read_frame(text)
    assert refused.value.problem.kind == "long-line"
    assert refused.value.problem.places[0].line == 8


def test_a_long_comment_is_no_long_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspector.formats.wavefront.pieces.LINE_BYTES", 1_000_000)
    assert read_frame(TRIANGLE + b"#" + b"x" * 2_000_000 + b"\n").problems == ()


def test_a_face_of_a_million_corners_is_read() -> None:
    corners = b" ".join(b"%d" % (1 + at % 3) for at in range(1_000_000))
    frame = read_frame(TRIANGLE + b"f " + corners + b"\n")
    assert frame.corners.sizes.tolist() == [3, 1_000_000]
    assert [one.kind for one in frame.problems] == ["n-gons"]


@pytest.mark.parametrize("native", [True, False])
@pytest.mark.parametrize("corner", [b"%d", b"%d/%d", b"%d//%d", b"%d/%d/%d"])
@pytest.mark.parametrize("odd", [b"", b" x", b" 7/", b" 123456789"])
@pytest.mark.parametrize("corners", [250, 10_000])
def test_a_long_face_is_read_whole_as_corner_by_corner(
    monkeypatch: pytest.MonkeyPatch, native: bool, corner: bytes, odd: bytes, corners: int
) -> None:
    if native and not _native.active:
        pytest.skip("the native core was not built")
    monkeypatch.setattr(_native, "active", native)
    slots = corner.count(b"%")
    face = b"f" + b"".join(b" " * 60 + corner % tuple(range(at, at + slots)) for at in range(1, corners + 1)) + odd
    text = b"f 1 2 3\n" * 90 + face + b"\nf 1 2 3\n"
    whole, one_by_one = read_faces(text), read_lines(text)
    for name in ("offsets", "v", "vt", "vn"):
        np.testing.assert_array_equal(getattr(whole, name), getattr(one_by_one, name))
    assert whole.problems == one_by_one.problems
    assert ("n-gons" in {problem.kind for problem in whole.problems}) == (corners > 255)
