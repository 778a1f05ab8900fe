"""Tests of frames that share data with the frames that were read before."""

from __future__ import annotations

import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from inspector.formats.frame import Frame
from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.reader import ObjReader

# One statement of every kind, healthy and broken. There are only a few statements, so neighbouring frames often agree.
LINES = st.sampled_from(
    [
        b"v 0 0 0", b"v 1 0.5 0", b"v -0.0 0 0", b"v 1 2", b"v 1 nan 3", b"v 1 2 3 4", b"v 1,5 2 3", b" v 7 7 7",
        b"vt 0 0", b"vt 1", b"vt 0.5 0.25 0", b"vn 0 0 1", b"vn 0 1",
        b"f 1 2 3", b"f 1 2 3 4", b"f 1/1 2/2 3/3", b"f -1 -2 -3", b"f 1/1/1 2//1 3", b"f 1 2 99", b"f 0 1 2",
        b"f 1", b"fo 1 2 3", b"f 1 2 3 # x",
        b"usemtl a", b"usemtl b", b"g one", b"o two", b"s 1", b"mtllib m.mtl", b"# note", b"", b"  ", b"l 1 2",
        b"call x", b"glow", b"f 1 \\", b"# C:\\",
    ]
)  # fmt: skip
LONG = b"v 1.25 0.5 -3\n" * 100
ENDS = st.sampled_from([b"\n", b"\n", b"\n", b"\r\n", b"\r"])
PIECES = st.lists(st.tuples(LINES, ENDS), max_size=14)


@st.composite
def neighbours(draw: st.DrawFn) -> tuple[bytes, bytes]:
    """Return two frames in which long sequences of lines are equal, as in neighbouring frames."""
    first = draw(PIECES)
    second = list(first)
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, len(second)))
        second[at : at + draw(st.integers(0, 2))] = draw(st.lists(st.tuples(LINES, ENDS), max_size=2))
    cut = draw(st.sampled_from([0, 0, 0, 1, 2]))
    return joined(first), joined(second)[: -cut or None]


def joined(pieces: list[tuple[bytes, bytes]]) -> bytes:
    return b"v 1 1 1\nv 2 2 2\n" + b"".join(line + end for line, end in pieces)


def outcome(reader: ObjReader, data: bytes) -> object:
    try:
        frame = reader.read(data)
    except UnreadableFrame as error:
        return error.problem
    return told(frame)


def told(frame: Frame) -> dict[str, object]:
    corners = frame.corners
    arrays = (frame.positions, frame.uvs, frame.normals, corners.offsets, corners.v, corners.vt, corners.vn)
    return {
        "arrays": [(array.shape, array.dtype, array.tobytes()) for array in arrays],
        "problems": sorted(frame.problems, key=lambda problem: problem.kind),
        "rest": (frame.data, frame.blocks, frame.runs, frame.libraries, frame.encoding, dict(frame.source_decimals)),
    }


@given(neighbours())
@example((b"v 0 0 0\nf 1 1 1\n", b"v 0 0 0\nf 1 1 1\nf 1 1 1\n"))  # the old block, with one more line
@example((b"v 0 0 0\nf 1 1 1\n", b"v 0 0 0\nv 0 0 0\nf 1 1 1\n"))
@example((b"v 0.0 0 0\n", b"v -0.0 0 0\n"))
def test_reading_after_another_frame_changes_nothing(texts: tuple[bytes, bytes]) -> None:
    before, after = texts
    reader = ObjReader()
    outcome(reader, before)
    assert outcome(reader, after) == outcome(ObjReader(), after)
    assert outcome(reader, before) == outcome(ObjReader(), before)


@given(neighbours())
def test_blocks_cover_every_byte_and_every_line_once(texts: tuple[bytes, bytes]) -> None:
    reader = ObjReader()
    for text in texts:
        try:
            frame = reader.read(text)
        except UnreadableFrame:
            continue
        starts, stops = [block.start for block in frame.blocks], [block.stop for block in frame.blocks]
        assert [0, *stops] == [*starts, len(frame.data)]
        assert all(start < stop for start, stop in zip(starts, stops, strict=True))
        line = 1
        for block in frame.blocks:
            assert block.first_line == line
            line += block.lines
        lines = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        continued_to_the_end = re.search(rb"\\\n[^\n]+\Z", lines)  # counts as part of the line on which it starts
        if not continued_to_the_end:
            assert line - 1 == lines.count(b"\n") + (not lines.endswith(b"\n"))


@pytest.mark.parametrize(
    "after",
    {
        "other values": LONG.replace(b"v 1.25", b"v 1.5"),
        "fewer lines": LONG[:700] + b"\nf 1 2 3\n",
        "very few lines": LONG[:100] + b"\nf 1 2 3\n",
        "somewhat more lines": LONG[:900] + LONG,
        "twice as many lines": LONG[:-1] + LONG,
        "an irregular line in the middle": LONG[:900] + b" # note" + LONG[900:],
        "a bad number at the end": LONG + b"v 1 2 x\n",
        "another count of numbers": LONG[:900] + LONG.replace(b" 0.5", b""),
        "an indented line, CRLF and no last end": LONG + b" v 1 2 3\r\nv 4 5 6",
        "a line with the keyword alone": LONG + b"v\n",
        "the keyword in capitals": LONG.replace(b"v", b"V"),
    }.values(),
)
def test_a_long_block_that_changes_is_read_as_if_alone(after: bytes) -> None:
    reader = ObjReader()
    reader.read(b"v 0 0 0\n" + LONG + b"f 1 2 3\n")
    assert outcome(reader, b"v 0 0 0\n" + after) == outcome(ObjReader(), b"v 0 0 0\n" + after)


def test_arrays_that_repeat_are_shared_and_those_that_change_are_not() -> None:
    head, faces = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\n", b"f 1/1 2/1 3/1\n"
    reader = ObjReader()
    one, two = reader.read(head + faces), reader.read(head.replace(b"v 1", b"v 2") + faces)
    assert two.positions is not one.positions
    assert two.uvs is one.uvs
    assert two.corners is one.corners
    assert one.positions[1, 0] == 1
