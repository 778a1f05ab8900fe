"""Tests of writing frames."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.errors import MeshqcError
from inspector.formats.frame import Corners, Frame, LibraryLine
from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.reader import read_frame
from inspector.formats.wavefront.writer import write_frame
from inspector.names import Name

# The textured square of the OBJ format document ("Appendix B1", version 3.0, examples), with additional comments.
SQUARE = b"""# kelp
mtllib master.mtl

v 0.000000 2.000000 0.000000
v 0.000000 0.000000 0.000000
v 2.000000 0.000000 0.000000
v 2.000000 2.000000 0.000000
vt 0.000000 1.000000 0.000000
vt 0.000000 0.000000 0.000000
vt 1.000000 0.000000 0.000000
vt 1.000000 1.000000 0.000000
# 4 vertices

usemtl wood
f 1/1 2/2 3/3 4/4
# 1 element
"""


@pytest.mark.parametrize(
    "data",
    [
        SQUARE,
        SQUARE.replace(b"\n", b"\r\n"),
        SQUARE.replace(b"\n", b"\r"),
        b"\xef\xbb\xbf" + SQUARE,
        SQUARE.rstrip(b"\n"),
        SQUARE.replace(b"v 0.000000 2", b"  v\t0.000000   2"),
        SQUARE.replace(b"2/2 3/3", b"2/2 \\\n 3/3"),
        SQUARE.decode().encode("utf-16"),
        SQUARE.decode().encode("utf-16-be").join([b"\xfe\xff", b""]),
        SQUARE + b"unheard of\ncall other.obj\n",
    ],
    ids=["lf", "crlf", "cr", "mark", "no end", "blanks", "continued", "utf-16-le", "utf-16-be", "unknown"],
)
def test_an_unchanged_frame_comes_out_byte_for_byte(data: bytes) -> None:
    assert write_frame(read_frame(data)) == data


def test_changed_positions_touch_only_their_block() -> None:
    frame = read_frame(SQUARE)
    written = write_frame(frame.replace(positions=frame.positions * 0.01, decimals={b"v": 8}))
    before, after = (
        SQUARE[SQUARE.index(b"v 0") : SQUARE.index(b"vt 0")],
        (
            b"v 0.00000000 0.02000000 0.00000000\nv 0.00000000 0.00000000 0.00000000\n"
            b"v 0.02000000 0.00000000 0.00000000\nv 0.02000000 0.02000000 0.00000000\n"
        ),
    )
    assert written == SQUARE.replace(before, after)


def test_what_stands_behind_a_position_stays() -> None:
    data = b"v 1 2 3 1.0\nv 4 5 6 0.5 0.25 0.125 # red\nv 7 8 9#end\nf 1 2 3\n"
    frame = read_frame(data)
    assert write_frame(frame.replace(positions=frame.positions + 1, decimals={b"v": 1})) == (
        b"v 2.0 3.0 4.0 1.0\nv 5.0 6.0 7.0 0.5 0.25 0.125 # red\nv 8.0 9.0 10.0#end\nf 1 2 3\n"
    )


def test_a_number_that_is_none_stays_as_written() -> None:
    frame = read_frame(b"v 1 nan 3\nv 4 5 6\nv 7 8 9\nf 1 2 3\n")
    written = write_frame(frame.replace(positions=frame.positions * 2, decimals={b"v": 0}))
    assert written == b"v 2 nan 6\nv 8 10 12\nv 14 16 18\nf 1 2 3\n"


def test_several_blocks_of_positions_each_get_their_own_rows_and_line_ends() -> None:
    data = b"v 0 0 0\r\nv 1 0 0\r\ng one\nv 0 1 0\nf 1 2 3\n"
    frame = read_frame(data)
    written = write_frame(frame.replace(positions=frame.positions + 1, decimals={b"v": 1}))
    assert written == b"v 1.0 1.0 1.0\r\nv 2.0 1.0 1.0\r\ng one\nv 1.0 2.0 1.0\nf 1 2 3\n"


def test_missing_uvs_are_inserted_before_the_first_face() -> None:
    bare = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nusemtl skin\nf 1 2 3 # nose\ng two\nf 3 2 1\n"
    frame = read_frame(bare)
    corners = frame.corners
    vt = np.array([0, 1, 2, 2, 1, 0], np.int32)
    uvs = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    new = frame.replace(uvs=uvs, corners=Corners(corners.offsets, corners.v, vt, corners.vn), decimals={b"vt": 2})
    assert write_frame(new) == (
        b"v 0 0 0\nv 1 0 0\nv 0 1 0\nusemtl skin\nvt 0.00 0.00\nvt 1.00 0.00\nvt 0.00 1.00\n"
        b"f 1/1 2/2 3/3 # nose\ng two\nf 3/3 2/2 1/1\n"
    )


def test_uvs_in_several_blocks_are_written_whole_where_the_first_stood() -> None:
    data = b"v 0 0 0\nv 1 0 0\nvt 0 0\nvt 1 0\nv 0 1 0\nvt 0 1\nf 1/1 2/2 3/3\n"
    frame = read_frame(data)
    new = frame.replace(uvs=frame.uvs + 0.5, decimals={b"vt": 1})
    assert write_frame(new) == b"v 0 0 0\nv 1 0 0\nvt 0.5 0.5\nvt 1.5 0.5\nvt 0.5 1.5\nv 0 1 0\nf 1/1 2/2 3/3\n"


def test_relative_indices_are_written_positive_once_uvs_change() -> None:
    data = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\nf -3/-3 -2/-2 -1/-1\nvt 5 5\n"
    frame = read_frame(data)
    written = write_frame(frame.replace(uvs=frame.uvs * 1, decimals={b"vt": 0}))
    assert b"f 1/1 2/2 3/3\n" in written
    assert np.array_equal(read_frame(written).corners.vt, frame.corners.vt)


def test_library_lines_are_replaced_dropped_or_inserted() -> None:
    frame = read_frame(SQUARE)
    renamed = write_frame(frame.replace(libraries=(LibraryLine(Name(b"kelp frond.mtl"), 0),)))
    assert renamed == SQUARE.replace(b"master.mtl", b"kelp frond.mtl")
    without = write_frame(frame.replace(libraries=()))
    assert without == SQUARE.replace(b"mtllib master.mtl\n", b"")
    again = write_frame(read_frame(without).replace(libraries=(LibraryLine(Name(b"master.mtl"), 0),)))
    assert again == SQUARE.replace(b"mtllib master.mtl\n\n", b"\nmtllib master.mtl\n")


def test_wide_text_is_written_back_in_its_encoding() -> None:
    data = SQUARE.decode().encode("utf-16")
    frame = read_frame(data)
    written = write_frame(frame.replace(positions=frame.positions * 3, decimals={b"v": 6}))
    assert written[:2] == data[:2]
    assert written.decode("utf-16") == SQUARE.decode().replace("2.000000", "6.000000")


def test_a_last_line_without_end_keeps_none() -> None:
    frame = read_frame(b"f 1 2 3\nv 1 2 3\nv 4 5 6\nv 7 8 9")
    written = write_frame(frame.replace(positions=frame.positions * 2, decimals={b"v": 0}))
    assert written == b"f 1 2 3\nv 2 4 6\nv 8 10 12\nv 14 16 18"


def test_a_face_without_a_legal_vertex_is_not_written_anew() -> None:
    frame = read_frame(b"v 1 2 3\nv 4 5 6\nv 7 8 9\nf 1 2 3\nf 1 2 9\n")
    corners = frame.corners
    touched = frame.replace(corners=Corners(corners.offsets, corners.v, corners.vt, corners.vn))
    with pytest.raises(MeshqcError, match="legal vertex index"):
        write_frame(touched)


def test_other_counts_than_the_lines_hold_are_refused() -> None:
    frame: Frame = read_frame(SQUARE)
    with pytest.raises(MeshqcError, match=r"number of vertex lines \(4\) differs from the number of vertices \(3\)"):
        write_frame(frame.replace(positions=frame.positions[:3].copy()))


def test_continued_lines_leave_nothing_behind_when_they_are_written_again() -> None:
    face = b"f 1 2 3\n"
    for end in (b"\n", b"\r\n"):
        text = (b"v \\\n 0 0 0\nv 1 \\\n 0 \\\n 0\n\nv 0 1 \\\n0\n" + face).replace(b"\n", end)
        frame = read_frame(text)
        moved = write_frame(frame.replace(positions=frame.positions + 1.0, decimals={b"v": 0}))
        assert moved == b"v 1 1 1\nv 2 1 1\n\nv 1 2 1\nf 1 2 3\n".replace(b"\n", end)
        faces = write_frame(frame.replace(corners=frame.corners))
        assert faces == text


def test_a_last_face_whose_corners_all_end_in_a_slash_is_whole() -> None:
    vertices = b"v 0 0 0\nv 1 0 0\nv 0 1 0\n"
    assert read_frame(vertices + b"f 1/ 2/ 3/\nf 3/ 2/ 1/").faces == 2
    for last in (b"f 1/1 2/2 3/", b"f 3/ 2/"):
        with pytest.raises(UnreadableFrame):
            read_frame(vertices + b"vt 0 0\nvt 1 0\nvt 1 1\n" + last)
