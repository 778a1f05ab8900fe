"""Tests of files with arbitrary content: random bytes, and a frame with changed bytes (no source)."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
from hypothesis import example, given
from hypothesis import strategies as st

from inspector.formats.frame import ABSENT, Frame
from inspector.formats.problems import KINDS, Problem, UnreadableFrame
from inspector.formats.wavefront.reader import ObjReader
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.measure import Known, measure
from tests.helpers.meshes import wing

HEALTHY = wing(1).text()
FILE = FrameFile(Fraction(1), Path("/nowhere"), 1, 1)
SNIPPETS = st.sampled_from(
    [b"\n", b"\r", b"\r\n", b"\\\n", b"#", b"/", b"//", b"-", b" ", b"\t", b"nan", b"1e308", b"-1e308", b"1e-320", b",",
     b"f", b"v", b"vt", b"\xef\xbb\xbf", b"\x85", b"\x00", b"\xff", b"9" * 30, b"usemtl", b"call", b"0", b"."]
)  # fmt: skip


@st.composite
def damaged(draw: st.DrawFn) -> bytes:
    data = HEALTHY
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(data)))
        data = data[:at] + draw(SNIPPETS | st.binary(max_size=3)) + data[at + draw(st.integers(0, 40)) :]
    return data


def read_or_reason(reader: ObjReader, data: bytes) -> Frame | Problem:
    try:
        return reader.read(data)
    except UnreadableFrame as error:
        return error.problem


def read_and_measure(data: bytes) -> None:
    reader = ObjReader()
    before = reader.read(HEALTHY)
    known = Known(before, measure(before, FILE))
    frame = read_or_reason(reader, data)
    if isinstance(frame, Problem):
        assert frame.kind in KINDS
        return
    corners = frame.corners
    for index, values in ((corners.v, frame.positions), (corners.vt, frame.uvs), (corners.vn, frame.normals)):
        assert ((index >= ABSENT) & (index < len(values))).all()
    assert corners.offsets[0] == 0
    assert corners.offsets[-1] == len(corners.v) == len(corners.vt) == len(corners.vn)
    assert (np.diff(corners.offsets) >= 0).all()
    lines = frame.data.count(b"\n") + frame.data.count(b"\r") + 1
    places = [place for problem in frame.problems for place in problem.places]
    assert all(1 <= place.line <= lines for place in places)
    assert {problem.kind for problem in frame.problems} <= KINDS.keys()
    measure(frame, FILE, before, known)


@given(damaged())
@example(HEALTHY.replace(b"v -2.000000", b"v 1e308"))
@example(HEALTHY.replace(b"v -2.000000", b"v -1e308").replace(b"v 2.000000", b"v 1e308"))
def test_a_damaged_frame(data: bytes) -> None:
    read_and_measure(data)


@given(st.binary(max_size=200))
def test_any_bytes(data: bytes) -> None:
    read_and_measure(data)
    read_and_measure(b"v 0 0 0\n" + data)
