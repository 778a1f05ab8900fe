"""Tests of the motion of vertices."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from inspector import _native
from inspector.formats.element_lines import element_line
from inspector.formats.wavefront.reader import ObjReader, read_frame
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.facts_json import facts_from_json, facts_to_json
from inspector.sequence.measure.measure import measure
from inspector.sequence.measure.motion_facts import (
    SAMPLED_VERTICES,
    Leap,
    movement,
    relief_offsets,
    sample,
    sample_positions,
    sample_relief,
    sampled,
)

TEXT = b"v 0 0 0\nv 3 0 0\n# between\nv 0 4 0\nv 0 0 12\nf 1 2 3\n"
MOVED = TEXT.replace(b"v 0 0 12", b"v 3 4 24").replace(b"v 3 0 0", b"v 3 0 7").replace(b"v 0 4 0", b"v 0 4 6")


def test_the_farthest_vertex_its_way_and_how_many_went_half_as_far() -> None:
    """The vertices move by 0, 7, 6 and 13 units, the last by (3, 4, 12). Only 7 and 13 are at least half of 13."""
    leap = movement(read_frame(MOVED), read_frame(TEXT)).leap
    assert leap == Leap(3, (3.0, 4.0, 12.0), 2)


def test_nothing_leaps_where_nothing_moves_or_frames_do_not_compare() -> None:
    frame = read_frame(TEXT)
    for other in (TEXT, TEXT.replace(b"v 0 4 0\n", b""), TEXT.replace(b"v 0 4 0", b"v 0 nan 0")):
        assert movement(read_frame(other), frame).leap is None
    assert movement(frame, None).leap is None


SQUARES = "".join(f"v {x} {y} 0\n" for y in range(3) for x in range(3)) + "f 1 2 5 4\nf 2 3 6 5\nf 4 5 8 7\nf 5 6 9 8\n"


def squares(*lifted: int) -> str:
    lines = SQUARES.splitlines()
    for vertex in lifted:
        lines[vertex - 1] = lines[vertex - 1][:-1] + "1"
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("native", [True, False])
def test_the_vertex_that_tears_itself_from_its_neighbours(native: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspector._native.active", native and _native.active)
    flat = read_frame(SQUARES.encode())
    assert movement(read_frame(squares(5).encode()), flat).tear == Leap(4, (0.0, 0.0, 1.0), 1)
    assert movement(read_frame(squares(*range(1, 10)).encode()), flat).tear is None


def test_of_several_that_leap_alike_the_first_stands_for_all() -> None:
    out = movement(read_frame(squares(1, 3, 7, 9).encode()), read_frame(SQUARES.encode())).tear
    back = movement(read_frame(SQUARES.encode()), read_frame(squares(1, 3, 7, 9).encode())).tear
    assert out == Leap(0, (0.0, 0.0, 1.0), 4)
    assert back == Leap(0, (0.0, 0.0, -1.0), 4)


def test_points_without_faces_have_no_neighbours() -> None:
    points = b"v 0 0 0\nv 1 0 0\n"
    assert movement(read_frame(points.replace(b"v 1 0 0", b"v 1 5 0")), read_frame(points)).tear is None


def test_the_line_of_a_vertex() -> None:
    lines = TEXT.split(b"\n")
    assert [lines[element_line(read_frame(TEXT), b"v", vertex) - 1] for vertex in range(4)] == [
        line for line in lines if line[:2] == b"v "
    ]


def test_it_survives_the_cache() -> None:
    reader = ObjReader()
    file = FrameFile(Fraction(2), Path("/nowhere/manta.0002.obj"), 1, 1)
    facts = measure(reader.read(MOVED), file, read_frame(TEXT))
    again = facts_from_json(facts_to_json(facts), file)
    assert again == facts
    assert sample_positions(again.sample).tolist() == reader.read(MOVED).positions.tolist()


@pytest.mark.parametrize("count", [0, 1, 63, 64, 65, 100, 600, 90_000])
def test_the_sample_is_spread_over_all(count: int) -> None:
    chosen = sampled(count)
    assert len(chosen) <= SAMPLED_VERTICES
    assert (np.diff(chosen) > 0).all()
    assert set(chosen.tolist()) <= set(range(count))
    if count:
        gaps = np.diff([-1, *chosen.tolist(), count])
        assert gaps.max() <= 3 * max(1, count / SAMPLED_VERTICES)


@pytest.mark.parametrize("columns", [64, 100, 128, 300])
def test_the_sample_of_a_grid_lies_in_all_its_columns(columns: int) -> None:
    thirds = np.bincount(sampled(columns * 300) % columns * 3 // columns, minlength=3)
    assert thirds.min() >= SAMPLED_VERTICES / 5


def test_a_sample_is_what_the_frame_has() -> None:
    frame = read_frame(b"".join(b"v %d 1 2\n" % n for n in range(1000)))
    assert np.array_equal(sample_positions(sample(frame))[:, 0], sampled(1000))


@pytest.mark.parametrize("native", [True, False])
def test_the_relief_is_how_far_a_vertex_is_from_its_neighbours(native: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """The middle vertex has four neighbours and is lifted by 1. A corner has two neighbours."""
    monkeypatch.setattr("inspector._native.active", native and _native.active)
    relief = relief_offsets(sample_relief(read_frame(squares(5).encode())))
    assert relief[4].tolist() == [0.0, 0.0, 1.0]
    assert relief[0].tolist() == [-0.5, -0.5, 0.0]
    shifted = read_frame(squares(*range(1, 10)).encode())
    assert np.array_equal(
        relief_offsets(sample_relief(shifted)), relief_offsets(sample_relief(read_frame(SQUARES.encode())))
    )


def test_points_without_faces_have_no_relief() -> None:
    assert sample_relief(read_frame(b"v 0 0 0\nv 1 0 0\n")) == b""
