"""Lines of absurd length: a verdict or a clear refusal, in bounded time and memory (no source: what a broken writer or
an attacker may put into a file)."""

from __future__ import annotations

import tracemalloc

import pytest

from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.reader import read_frame

TRIANGLE = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"


def test_numbers_beyond_the_last_that_counts_are_counted_and_not_kept() -> None:
    text = TRIANGLE + b"v" + b" 1" * 1_000_000 + b"\n"
    tracemalloc.start()
    frame = read_frame(text)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    (problem,) = (one for one in frame.problems if one.kind == "bad-number")
    assert problem.count == 1_000_000 - 7  # x y z and, at most, a weight and a colour
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
