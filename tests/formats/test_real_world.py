"""Tests of irregular files that occur in practice.

Every file has a peculiarity that was observed in public data. The expected values were worked out by hand from the OBJ
format document (Appendix B1, version 3.0). An index that is malformed or out of range counts as absent.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from inspector.formats.frame import ABSENT
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.obj_lines import FACE, VN, VT, Problems, V, reported

NONE = [ABSENT] * 3
NAN = float("nan")


@dataclass(frozen=True)
class Row:
    """A file and the expected result. The arrays are given only if they differ from V and FACE."""

    text: bytes
    problems: Problems = field(default_factory=dict)
    v: list[int] = field(default_factory=lambda: [0, 1, 2])
    vt: list[int] | None = None
    vn: list[int] | None = None
    sizes: list[int] | None = None
    positions: list[list[float]] = field(default_factory=lambda: [[0, 0, 0], [1, 0, 0], [0, 1, 0]])


QUADS = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n"
QUAD = [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
HEX = [[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1], [0, 1, 1]]

INDICES = {
    "negative": Row(V + b"f -3 -2 -1\n", {"relative-index": (3, 4)}),
    "negative, interleaved": Row(
        V + VT + b"f -3/-3 -2/-2 -1/-1\nv 0 0 1\nv 1 0 1\nv 0 1 1\nvt 0 0\nf -3/-4 -2/-3 -1/-1\n",
        {"relative-index": (12, 7)},
        v=[0, 1, 2, 3, 4, 5],
        vt=[0, 1, 2, 0, 1, 3],
        sizes=[3, 3],
        positions=HEX,
    ),
    "negative beyond the start": Row(
        V + b"f -4 -2 -1\n", {"relative-index": (3, 4), "index-range": (1, 4)}, v=[ABSENT, 1, 2]
    ),
    "zero": Row(V + b"f 0 1 2\n", {"index-zero": (1, 4)}, v=[ABSENT, 0, 1]),
    "vt and vn zero": Row(
        V + VT + VN + b"f 1/0/1 2/2/0 3/3/1\n",
        {"vt-index-range": (1, 8), "vn-index-range": (1, 8)},
        vt=[ABSENT, 1, 2],
        vn=[0, ABSENT, 0],
    ),
    "beyond the end": Row(V + FACE + b"f 1 2 4\n", {"index-range": (1, 5)}, v=[0, 1, 2, 0, 1, ABSENT], sizes=[3, 3]),
    "forward reference": Row(V[:16] + FACE + V[16:]),
    "vt beyond the end": Row(V + VT + b"f 1/1 2/2 3/4\n", {"vt-index-range": (1, 7)}, vt=[0, 1, ABSENT]),
    "vn beyond the end": Row(V + VN + b"f 1//1 2//2 3//1\n", {"vn-index-range": (1, 5)}, vn=[0, ABSENT, 0]),
    "beyond 32 bits, would wrap to 1": Row(V + b"f 4294967297 2 3\n", {"index-range": (1, 4)}, v=[ABSENT, 1, 2]),
    "just beyond 31 bits": Row(V + b"f 2147483648 2 3\n", {"index-range": (1, 4)}, v=[ABSENT, 1, 2]),
    "beyond 64 bits": Row(V + b"f 18446744073709551617 2 3\n", {"index-range": (1, 4)}, v=[ABSENT, 1, 2]),
    "most negative": Row(
        V + b"f -9223372036854775808 2 3\n", {"index-range": (1, 4)}, v=[ABSENT, 1, 2]
    ),
    "mixed corners": Row(
        V + VT + VN + b"f 1/1/1 2//1 3\n", {"mixed-corners": (1, 8)}, vt=[0, ABSENT, ABSENT], vn=[0, 0, ABSENT]
    ),
    "UVs on some faces": Row(V + VT + b"f 1/1 2/2 3/3\nf 1 2 3\n", v=[0, 1, 2] * 2, vt=[0, 1, 2, *NONE], sizes=[3, 3]),
    "1/": Row(V + b"f 1/ 2/ 3/\n", {"empty-index": (3, 4)}),
    "1/1/": Row(V + VT + b"f 1/1/ 2/2/ 3/3/\n", {"empty-index": (3, 7)}, vt=[0, 1, 2]),
    "1//": Row(V + b"f 1// 2// 3//\n", {"empty-index": (3, 4)}),
    "no vertex": Row(
        V + VT + b"f /1 2/2 3/3\n", {"bad-number": (1, 7), "mixed-corners": (1, 7)}, v=[ABSENT, 1, 2], vt=[0, 1, 2]
    ),
    "four slots": Row(V + VT + VN + b"f 1/1/1/9 2/2/1 3/3/1\n", {"bad-number": (1, 8)}, vt=[0, 1, 2], vn=[0] * 3),
    "a word": Row(V + b"f 1 two 3\n", {"bad-number": (1, 4)}, v=[0, ABSENT, 2]),
    "a fraction": Row(V + b"f 1 2.0 3\n", {"bad-number": (1, 4)}, v=[0, ABSENT, 2]),
    "plus sign and leading zeros": Row(V + b"f +1 02 0000000000000000000003\n"),
}  # fmt: skip

FACES = {
    "17 corners": Row(V + b"f" + b" 1 2 3" * 5 + b" 1 2\n", v=[0, 1, 2] * 5 + [0, 1], sizes=[17]),
    "255 corners": Row(V + b"f" + b" 1 2 3" * 85 + b"\n", v=[0, 1, 2] * 85, sizes=[255]),
    "256 corners": Row(
        V + b"f" + b" 1 2 3" * 85 + b" 1\n", {"n-gons": (1, 4)}, v=[0, 1, 2] * 85 + [0], sizes=[256]
    ),
    "one and two corners": Row(
        V + b"f 1\nf 1 2\nf 1 2 3\n", {"degenerate-face": (2, 4)}, v=[0, 0, 1, 0, 1, 2], sizes=[1, 2, 3]
    ),
    "no corner": Row(V + b"f\nf 1 2 3\n", {"degenerate-face": (1, 4)}, sizes=[0, 3]),
    "repeated corner": Row(V + b"f 1 2 2\n", v=[0, 1, 1]),
    "duplicate and reversed face": Row(
        V + b"f 1 2 3\nf 1 2 3\nf 3 2 1\n", v=[0, 1, 2, 0, 1, 2, 2, 1, 0], sizes=[3, 3, 3]
    ),
    "concave": Row(QUADS + b"f 1 2 3 4\n", v=[0, 1, 2, 3], positions=QUAD),
    "fo": Row(V + b"fo 1 2 3\nfo 3 2 1\n", {"deprecated-statement": (2, 4)}, v=[0, 1, 2, 2, 1, 0], sizes=[3, 3]),
    "lines and points": Row(V + b"l 1 2\nl 2 3\np 1\n" + FACE, {"not-polygonal": (3, 4)}),
    "free-form": Row(
        V + b"cstype bspline\ndeg 3\ncurv 0 1 1 2 3\nparm u 0 1\nend\n" + FACE, {"free-form": (1, 6)}
    ),
    "unreferenced vertex": Row(V + b"v 9 9 9\n" + FACE, positions=[[0, 0, 0], [1, 0, 0], [0, 1, 0], [9, 9, 9]]),
    "more UVs than vertices": Row(V + VT + b"vt 1 1\nf 1/1 2/2 3/4\n", vt=[0, 1, 3]),
    "points without a face": Row(V, v=[], sizes=[]),
}  # fmt: skip


def one_x(token: bytes, kind: str, value: float = NAN) -> Row:
    return Row(
        b"v 0 0 0\nv %s 0 0\nv 0 1 0\n" % token + FACE, {kind: (1, 2)} if kind else {},
        positions=[[0, 0, 0], [value, 0, 0], [0, 1, 0]],
    )  # fmt: skip


NUMBERS = {
    "exponent": one_x(b"1.0E+00", "", 1.0),
    "exponent without sign": one_x(b"25e-1", "", 2.5),
    "no leading digit": one_x(b".73", "", 0.73),
    "no trailing digit": one_x(b"5.", "", 5.0),
    "plus sign": one_x(b"+0.5", "", 0.5),
    "twenty decimals": one_x(b"0.12345678901234567890", "", 0.12345678901234567890),
    "far from the origin": one_x(b"1234567.123456", "", 1234567.123456),
    "underflow": one_x(b"1e-400", "", 0.0),
    "decimal comma": one_x(b"0,5", "decimal-comma"),
    **{
        token.decode(): one_x(token, "bad-number")
        for token in (b"1d0", b"0x10", b"1.2.3", b"1e", b"1_000", b".", b"-", b"nan", b"-nan", b"inf", b"Infinity",
                      b"1e400", b"-1.#IND", b"1.#QNAN", b"1.#INF", b"nan(ind)", b"one", b"\xd9\xa1")
    },
    "too few": Row(b"v 0 0 0\nv 1 0\nv 0 1 0\n" + FACE, {"few-numbers": (1, 2)},
                   positions=[[0, 0, 0], [1, 0, NAN], [0, 1, 0]]),
    "none": Row(b"v 0 0 0\nv\nv 0 1 0\n" + FACE, {"few-numbers": (1, 2)},
                positions=[[0, 0, 0], [NAN] * 3, [0, 1, 0]]),
    "too many": Row(b"v 0 0 0\nv 1 0 0 1 1 1 1 9\nv 0 1 0\n" + FACE, {"bad-number": (1, 2), "partial-extras": (1, 1)}),
    "weight": Row(b"v 0 0 0 1\nv 1 0 0 1\nv 0 1 0 0.5\n" + FACE),
    "colour": Row(b"v 0 0 0 1 0 0\nv 1 0 0 0 1 0\nv 0 1 0 0 0 1\n" + FACE),
    "colour on some": Row(b"v 0 0 0 1 0 0\nv 1 0 0\nv 0 1 0 0 0 1\n" + FACE, {"partial-extras": (1, 1)}),
    "colour in another block": Row(b"v 0 0 0 1 0 0\n# .\nv 1 0 0\nv 0 1 0\n" + FACE, {"partial-extras": (1, 1)}),
}  # fmt: skip

TEXT_FORMS = {
    "CRLF": Row((V + FACE).replace(b"\n", b"\r\n")),
    "CR": Row((V + FACE).replace(b"\n", b"\r"), {"bare-returns": (4, 1)}),
    "CRLF and LF": Row(V.replace(b"\n", b"\r\n") + FACE, {"mixed-newlines": (1, 1)}),
    "all three": Row(
        b"v 0 0 0\r\nv 1 0 0\rv 0 1 0\n" + FACE, {"bare-returns": (1, 2), "mixed-newlines": (1, 1)}
    ),
    "tabs, several blanks, indented, blanks at the end": Row(
        b"\tv\t0 0\t 0\n  v  1 0 0  \nv 0   1 0\t\n \tf 1\t2  3 \n"
    ),
    "blank lines": Row(b"\n\nv 0 0 0\n\nv 1 0 0\n \t\nv 0 1 0\n\n" + FACE),
    "byte-order mark": Row(b"\xef\xbb\xbf" + V + FACE, {"byte-order-mark": (1, 1)}),
    "UTF-16, little end first": Row(b"\xff\xfe" + (V + FACE).decode().encode("utf-16-le"), {"utf-16": (1, 1)}),
    "UTF-16, big end first": Row(b"\xfe\xff" + (V + FACE).decode().encode("utf-16-be"), {"utf-16": (1, 1)}),
    "no final newline": Row((V + FACE)[:-1], {"no-final-newline": (1, 4)}),
    "no final newline, behind a comment": Row(V + FACE + b"# end", {"no-final-newline": (1, 5)}),
    "continued": Row(V + b"f 1 \\\n2 \\\n3\n", {"continued-line": (1, 4)}),
    "continued, CRLF": Row((V + b"f 1 \\\n2 \\\n3\n").replace(b"\n", b"\r\n"), {"continued-line": (1, 4)}),
    "continued vertex": Row(b"v 0 0 0\nv 1 \\\n0 0\nv 0 1 0\n" + FACE, {"continued-line": (1, 2)}),
    "continued at the end of the file": Row(V + b"f 1 2 3\\\n", {"continued-line": (1, 4)}),
    "comment that ends in a backslash": Row(b"# C:\\scenes\\\n" + V + FACE),
    "comment that ends in a backslash, CRLF": Row(b"  # C:\\scenes\\\r\n" + (V + FACE).replace(b"\n", b"\r\n")),
    "comment behind a face": Row(V + b"f 1 2 3 # fin\n", {"trailing-comment": (1, 4)}),
    "comment right behind a face": Row(V + b"f 1 2 3#fin\n", {"trailing-comment": (1, 4)}),
    "comment behind a vertex": Row(
        b"v 0 0 0 # nose\nv 1 0 0\nv 0 1 0 # tip\n" + FACE, {"trailing-comment": (2, 1)}
    ),
    "unknown statement": Row(V + b"glow 1\n" + FACE, {"unknown-statement": (1, 4)}),
    "known state of no consequence": Row(b"mg 1 2\nlod 3\nbevel on\n" + V + FACE),
    "a further file": Row(b"mg 1 2\nlod 3\nbevel on\nshadow_obj x.obj\n" + V + FACE, {"left-out": (1, 4)}),
}  # fmt: skip

ROWS = {
    **{f"index: {name}": row for name, row in INDICES.items()},
    **{f"face: {name}": row for name, row in FACES.items()},
    **{f"number: {name}": row for name, row in NUMBERS.items()},
    **{f"text: {name}": row for name, row in TEXT_FORMS.items()},
}


@pytest.mark.parametrize("name", ROWS)
def test_what_was_seen_in_public_files(name: str) -> None:
    row, frame = ROWS[name], read_frame(ROWS[name].text)
    corners = frame.corners
    assert reported(frame) == row.problems
    assert np.array_equal(frame.positions, row.positions, equal_nan=True)
    assert corners.sizes.tolist() == ([len(row.v)] if row.sizes is None else row.sizes)
    assert corners.v.tolist() == row.v
    assert corners.vt.tolist() == (row.vt or [ABSENT] * len(row.v))
    assert corners.vn.tolist() == (row.vn or [ABSENT] * len(row.v))


def test_every_index_from_zero_up_is_one_too_low() -> None:
    frame = read_frame(V + b"f 0 1 2\nf 2 1 0\n")
    assert reported(frame) == {"index-zero": (2, 4)}
    assert frame.corners.v.tolist() == [ABSENT, 0, 1, 1, 0, ABSENT]


def test_a_problem_keeps_its_count_but_only_the_first_places() -> None:
    frame = read_frame(V + b"f 1 2 9\n" * 1000)
    (problem,) = frame.problems
    assert (problem.kind, problem.count) == ("index-range", 1000)
    assert [place.line for place in problem.places] == [4, 5, 6, 7, 8]
    assert [place.element for place in problem.places] == [0, 1, 2, 3, 4]
    assert problem.places[0].text is not None
    assert problem.places[0].text.raw == b"9"


def test_uvs_of_one_two_and_three_numbers_get_zeros() -> None:
    """A vt has 1 to 3 values, and missing values are 0 (format document, vt)."""
    assert read_frame(V + b"vt 0.5\n").uvs.tolist() == [[0.5, 0.0]]
    mixed = read_frame(V + b"vt 0.5\nvt 0.25 0.75\n# .\nvt 1 1 1\n")
    assert mixed.uvs.tolist() == [[0.5, 0, 0], [0.25, 0.75, 0], [1, 1, 1]]
    assert mixed.problems == ()
