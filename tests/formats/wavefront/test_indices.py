"""Tests of face indices, against `reference`, a slow reader that was written from the grammar of the format."""

from __future__ import annotations

import re
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspector.formats.problems import Place
from inspector.formats.wavefront.indices import NOT_GIVEN, FaceTable, read_faces
from inspector.formats.wavefront.indices_regular import read_regular
from inspector.names import Name

Corner = tuple[int, int, int]


def reference(text: bytes) -> tuple[list[list[Corner]], Counter[str]]:
    faces: list[list[Corner]] = []
    kinds: Counter[str] = Counter()
    for line in text.split(b"\n"):
        if not line.strip(b" \t\r"):
            continue
        kinds["trailing-comment"] += b"#" in line
        tokens = [token for token in re.split(rb"[ \t\r]", line.split(b"#")[0]) if token][1:]
        face, forms = [], set()
        for token in tokens:
            slots = token.split(b"/")
            kinds["bad-number"] += (len(slots) > 3) + (not slots[0])
            kinds["empty-index"] += 1 < len(slots) < 4 and not slots[-1]
            corner = []
            for slot in [*slots, b"", b""][:3]:
                value = NOT_GIVEN
                if re.fullmatch(rb"[+-]?[0-9]+", slot):
                    value = int(slot)
                    if not -(2**63) < value < 2**63:
                        kinds["index-range"] += 1
                        value = NOT_GIVEN
                elif slot:
                    kinds["bad-number"] += 1
                corner.append(value)
            forms.add(tuple(bool(slot) for slot in [*slots, b"", b""][:3]))
            face.append(tuple(corner))
        kinds["mixed-corners"] += len(forms) > 1
        kinds["degenerate-face"] += len(face) < 3
        kinds["n-gons"] += len(face) > 255
        faces.append(face)
    return faces, +kinds


def check(text: bytes, keyword: bytes = b"f") -> FaceTable:
    table = read_faces(text, keyword)
    faces, kinds = reference(text)
    assert np.diff(table.offsets).tolist() == list(map(len, faces))
    assert table.offsets[0] == 0
    corners = [corner for face in faces for corner in face]
    assert list(zip(table.v.tolist(), table.vt.tolist(), table.vn.tolist(), strict=True)) == corners
    assert {problem.kind: problem.count for problem in table.problems} == kinds
    for array in (table.offsets, table.v, table.vt, table.vn):
        assert array.dtype in (np.int32, np.int64)
        assert not array.flags.writeable
    return table


INDEX = st.one_of(st.integers(1, 99), st.integers(1, 10**8 - 1), st.integers(-1000, -1), st.integers(-(10**8) + 1, 0))
FORMS = (b"%d", b"%d/%d", b"%d//%d", b"%d/%d/%d")


@st.composite
def face_lines(draw: st.DrawFn, keyword: bytes = b"f") -> bytes:
    form = draw(st.sampled_from(FORMS))
    blank = draw(st.sampled_from([b" ", b"  ", b"\t", b" \t "]))
    size = draw(st.integers(3, 6))
    corners = [form % tuple(draw(INDEX) for _ in range(form.count(b"%d"))) for _ in range(size)]
    return draw(st.sampled_from([b"", b" ", b"\t"])) + keyword + blank + blank.join(corners)


@given(st.lists(face_lines(), min_size=1, max_size=12), st.sampled_from([b"\n", b"\r\n", b" \n", b" \t\r\n"]))
def test_good_faces(lines: list[bytes], end: bytes) -> None:
    text = b"".join(line + end for line in lines) * 40
    assert check(text).problems == ()
    assert read_regular(text, b"f") is not None, "the fast path gave up on good faces"


@given(st.lists(face_lines(b"fo"), min_size=1, max_size=6))
def test_the_superseded_keyword(lines: list[bytes]) -> None:
    text = b"\n".join(lines * 40) + b"\n"
    assert check(text, b"fo").problems == ()
    assert read_regular(text, b"fo") is not None


GOOD = [b"f 1 22 333", b"f 1/1 2/22 3/3 -4/4", b"f 1//1 2//222222 3//3", b"f 1/2/3 4/5/6 7/8/99999"]
STRAY = [b"", b"//", b"\n\n", *(bytes([byte]) for byte in b" \t\r\n+-./0159#fx\x00\x0b\xff")]


@given(st.data())
@settings(max_examples=150)
def test_hostile_text(data: st.DataObject) -> None:
    form = data.draw(st.sampled_from(GOOD))
    text = bytearray((form + b"\n") * 60)
    for at in data.draw(st.lists(st.integers(2, len(text) - 1), max_size=4)):
        text[at : at + 1] = data.draw(st.sampled_from(STRAY))
    lines = [line for line in bytes(text).split(b"\n") if re.match(rb"[ \t\r]*(f[ \t\r]|f?$)", line)]
    check(b"\n".join(lines) + data.draw(st.sampled_from([b"", b"\n", b"\r\n"])))


N = NOT_GIVEN


# Forms of faces that were seen in public data; the forms of corners are from the format document, "f".
@pytest.mark.parametrize(
    ("line", "corners", "kinds"),
    [
        (b"f 1 2 3", [(1, N, N), (2, N, N), (3, N, N)], {}),
        (b"f 1/4 2/5 3/6", [(1, 4, N), (2, 5, N), (3, 6, N)], {}),
        (b"f 1//4 2//5 3//6", [(1, N, 4), (2, N, 5), (3, N, 6)], {}),
        (b"f 1/4/7 2/5/8 3/6/9", [(1, 4, 7), (2, 5, 8), (3, 6, 9)], {}),
        (b"f -4/-4 -3/-3 -2/-2", [(-4, -4, N), (-3, -3, N), (-2, -2, N)], {}),
        (b"f 0 1 2", [(0, N, N), (1, N, N), (2, N, N)], {}),
        (b"f 1/0 2/1 3/2", [(1, 0, N), (2, 1, N), (3, 2, N)], {}),
        (b"f 2147483649 2 3", [(2**31 + 1, N, N), (2, N, N), (3, N, N)], {}),
        (b"f 9223372036854775807 2 3", [(2**63 - 1, N, N), (2, N, N), (3, N, N)], {}),
        (b"f 9223372036854775808 2 3", [(N, N, N), (2, N, N), (3, N, N)], {"index-range": 1}),
        (b"f -9223372036854775808 2 3", [(N, N, N), (2, N, N), (3, N, N)], {"index-range": 1}),
        (b"f 18446744073709551617 2 3", [(N, N, N), (2, N, N), (3, N, N)], {"index-range": 1}),
        (b"f %s 2 3" % (b"9" * 5000), [(N, N, N), (2, N, N), (3, N, N)], {"index-range": 1}),
        (b"f %s1 2 3" % (b"0" * 5000), [(1, N, N), (2, N, N), (3, N, N)], {}),
        (b"f 1/1/1 2//1 3", [(1, 1, 1), (2, N, 1), (3, N, N)], {"mixed-corners": 1}),
        (b"f 1/ 2/ 3/", [(1, N, N), (2, N, N), (3, N, N)], {"empty-index": 3}),
        (b"f 1/1/ 2/2/ 3/3/", [(1, 1, N), (2, 2, N), (3, 3, N)], {"empty-index": 3}),
        (b"f 1// 2// 3//", [(1, N, N), (2, N, N), (3, N, N)], {"empty-index": 3}),
        (b"f 1/1 2/ 3/3", [(1, 1, N), (2, N, N), (3, 3, N)], {"empty-index": 1, "mixed-corners": 1}),
        (b"f /1 2/2 3/3", [(N, 1, N), (2, 2, N), (3, 3, N)], {"bad-number": 1, "mixed-corners": 1}),
        (b"f /1 /2 /3", [(N, 1, N), (N, 2, N), (N, 3, N)], {"bad-number": 3}),
        (b"f //1 //2 //3", [(N, N, 1), (N, N, 2), (N, N, 3)], {"bad-number": 3}),
        (b"f 1- 2- 3-", [(N, N, N)] * 3, {"bad-number": 3}),
        (b"f --1 --2 --3", [(N, N, N)] * 3, {"bad-number": 3}),
        (b"f 1///2 2///3 3///4", [(1, N, N), (2, N, N), (3, N, N)], {"bad-number": 3}),
        (b"f 1 2.0 x", [(1, N, N), (N, N, N), (N, N, N)], {"bad-number": 2}),
        (b"f 1/1/1/1 2/2/2 3/3/3", [(1, 1, 1), (2, 2, 2), (3, 3, 3)], {"bad-number": 1}),
        (b"f 1 2", [(1, N, N), (2, N, N)], {"degenerate-face": 1}),
        (b"f", [], {"degenerate-face": 1}),
        (b"f 1 2 3 # x", [(1, N, N), (2, N, N), (3, N, N)], {"trailing-comment": 1}),
        (b"\t f  1\t2 3 \r", [(1, N, N), (2, N, N), (3, N, N)], {}),
        (b"f" + b" 7" * 255, [(7, N, N)] * 255, {}),
        (b"f" + b" 7" * 256, [(7, N, N)] * 256, {"n-gons": 1}),
    ],
)
@pytest.mark.parametrize("lines", [1, 200])
def test_by_example(line: bytes, corners: list[Corner], kinds: dict[str, int], lines: int) -> None:
    if lines > 1 and len(line) > 1000:
        lines = 20
    table = read_faces((line + b"\n") * lines)
    found = list(zip(table.v.tolist(), table.vt.tolist(), table.vn.tolist(), strict=True))
    assert found == corners * lines
    assert table.offsets.tolist() == [face * len(corners) for face in range(lines + 1)]
    assert {problem.kind: problem.count for problem in table.problems} == {k: n * lines for k, n in kinds.items()}


def test_places_count_lines_and_faces_from_the_start_of_the_block() -> None:
    good = b"f 1/1/1 2/2/2 3/3/3 4/4/4\n"
    lines = 30_000  # more than one piece
    table = check(good * lines + b" \n" + good + b"f 1/1/1 2/2/2 3/3/x\n" + good)
    (problem,) = table.problems
    assert problem.places == (Place(lines + 2, lines + 1, Name(b"3/3/x")),)


def test_nothing() -> None:
    assert check(b"").offsets.tolist() == [0]
