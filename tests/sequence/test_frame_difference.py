"""Tests of the differences between two frames. The expected values were calculated by hand."""

from __future__ import annotations

import numpy as np

from inspector.formats.frame import Frame
from inspector.formats.wavefront.reader import ObjReader
from inspector.sequence.frame_difference import Difference, differences, displacement

SQUARE = b"""mtllib kelp.mtl
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt 0 0
vt 1 0
vt 1 1
vt 0 1
vn 0 0 1
usemtl leaf
f 1/1/1 2/2/1 3/3/1
f 1/1/1 3/3/1 4/4/1
"""


def frame(text: bytes) -> Frame:
    return ObjReader().read(text)


def by_block(one: bytes, other: bytes) -> dict[str, Difference]:
    return {found.block: found for found in differences(frame(one), frame(other)) if not found.same}


def test_a_frame_is_like_itself() -> None:
    assert not by_block(SQUARE, SQUARE)
    ways = displacement(frame(SQUARE), frame(SQUARE))
    assert ways is not None
    assert not ways.any()


def test_distances_by_hand() -> None:
    """One of four vertices moves by (3, 4, 0), whose length is 5 (Pythagoras), so the mean is 1.25."""
    moved = SQUARE.replace(b"v 1 1 0", b"v 4 5 0")
    found = by_block(SQUARE, moved)
    assert list(found) == ["vertices (v)"]
    line = 4  # the third vertex of SQUARE, counted by hand
    assert found["vertices (v)"] == Difference("vertices (v)", "vertex", (4, 4), 1, 2, line, "units", 1.25, 5.0)
    np.testing.assert_array_equal(displacement(frame(SQUARE), frame(moved)), [0.0, 0.0, 5.0, 0.0])


def test_a_bad_number_is_no_distance() -> None:
    found = by_block(SQUARE, SQUARE.replace(b"v 1 1 0", b"v 1 1 nan"))
    one = found["vertices (v)"]
    assert (one.differing, one.element, one.line, one.most) == (1, 2, 4, 0.0)
    assert np.isnan(displacement(frame(SQUARE), frame(SQUARE.replace(b"v 1 1 0", b"v 1 1 nan")))[2])


def test_indices_materials_and_libraries() -> None:
    found = differences(frame(SQUARE), frame(SQUARE.replace(b"3/3/1 4/4/1", b"3/3/1 4/1/1")))
    assert [(one.block, one.differing, one.element, one.line) for one in found if not one.same] == [
        ("face UVs", 1, 1, 13)
    ]
    found = differences(frame(SQUARE), frame(SQUARE.replace(b"leaf", b"stem").replace(b"kelp.mtl", b"manta.mtl")))
    places = [(one.block, one.noun, one.element, one.line) for one in found if not one.same]
    assert places == [("libraries", "library", 0, 1), ("materials", "face", 0, 12)]


def test_other_counts_compare_what_both_have() -> None:
    cut = SQUARE.replace(b"v 0 1 0\n", b"").replace(b"f 1/1/1 3/3/1 4/4/1\n", b"")
    found = by_block(SQUARE, cut)
    assert found["vertices (v)"].counts == (4, 3)
    assert found["vertices (v)"].differing == 0
    assert not found["vertices (v)"].same
    assert displacement(frame(SQUARE), frame(cut)) is None


def test_faces_of_other_sizes() -> None:
    quad = SQUARE.replace(b"f 1/1/1 2/2/1 3/3/1\n", b"f 1/1/1 2/2/1 3/3/1 4/4/1\n")
    found = [one for one in differences(frame(SQUARE), frame(quad)) if not one.same]
    assert {(one.differing, one.element) for one in found} == {(1, 0)}
    assert len(found) == 3


def test_lines_are_those_of_the_file_here() -> None:
    """UVs are on lines 6 to 9 of SQUARE, and the normal is on line 10. A comment at the start shifts all lines."""
    other = SQUARE.replace(b"vt 1 1\n", b"vt 1 3\n").replace(b"vn 0 0 1", b"vn 0 1 0")
    found = by_block(SQUARE, other)
    assert [(one.element, one.line) for one in found.values()] == [(2, 8), (0, 10)]
    found = by_block(b"# kelp\n" + SQUARE, other)
    assert [(one.element, one.line) for one in found.values()] == [(2, 9), (0, 11)]


def test_nothing_against_nothing() -> None:
    assert all(one.same for one in differences(frame(b"v 0 0 0\n"), frame(b"v 0 0 0\n")))
