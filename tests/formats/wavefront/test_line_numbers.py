"""Tests of the line numbers in problems, counted from 1 as in editors.

The problems were observed in public data. Their lines were counted by hand.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from inspector.formats.wavefront.reader import ObjReader, read_frame

TEXT = b"""\
# one
mtllib manta.mtl

v 0 0 0
v 1 nan 0
v 0 1 0
# seven
v 1 1 0,5
vt 0 0
vt 1
vt 0.5 0.5 x

usemtl skin
f 1/1 2/2 3/3
f 1/1 2/2 9/3
f 1/1 2/2/ 3
f 1 2

f -1/-1 2/9 3/3
glow 20
call other.obj
l 1 2
"""
LINES = {
    "bad-number": [5],
    "bad-uv": [11],
    "decimal-comma": [8],
    "index-range": [15],
    "mixed-corners": [16],
    "empty-index": [16],
    "degenerate-face": [17],
    "relative-index": [19, 19],
    "vt-index-range": [19],
    "unknown-statement": [20],
    "executable-statement": [21],
    "not-polygonal": [22],
}
OF_THE_FORM = {"bare-returns", "mixed-newlines", "byte-order-mark", "utf-16", "continued-line", "no-final-newline"}


def some_carriage_returns(text: bytes) -> bytes:
    lines = text.split(b"\n")
    ends = [b"\n", b"\r\n", b"\r"]
    return b"".join(line + ends[at % 3] for at, line in enumerate(lines[:-1]))


FORMS: dict[str, Callable[[bytes], bytes]] = {
    "as it is": lambda text: text,
    "CRLF": lambda text: text.replace(b"\n", b"\r\n"),
    "CR": lambda text: text.replace(b"\n", b"\r"),
    "mixed": some_carriage_returns,
    "byte-order mark": lambda text: b"\xef\xbb\xbf" + text,
    "UTF-16": lambda text: text.decode().encode("utf-16"),
    "indented": lambda text: b"".join(b" \t" + line for line in text.splitlines(keepends=True)),
    "blanks at the end": lambda text: text.replace(b"\n", b" \t \n"),
    "tabs": lambda text: text.replace(b" ", b"\t"),
    "comments that end in a backslash": lambda text: text.replace(b"# one", b"# C:\\").replace(b"# seven", b"#\\"),
    "no final newline": lambda text: text[:-1],
}


def lines_of(data: bytes) -> dict[str, list[int]]:
    problems = read_frame(data).problems
    return {problem.kind: [place.line for place in problem.places] for problem in problems}


@pytest.mark.parametrize("form", FORMS)
def test_lines_are_right_in_every_text_form(form: str) -> None:
    found = lines_of(FORMS[form](TEXT))
    assert {kind: lines for kind, lines in found.items() if kind not in OF_THE_FORM} == LINES


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"], ids=["LF", "CRLF", "CR"])
def test_a_continued_line_moves_what_is_behind_it_by_its_lines(end: bytes) -> None:
    text = (
        TEXT.replace(b"v 0 0 0\n", b"v 0 \\\n0 \\\n0\n").replace(b"2/2 3/3\nf", b"2/2 \\\n3/3\nf").replace(b"\n", end)
    )
    moved = {kind: [line + 2 + (line > 14) for line in lines] for kind, lines in LINES.items()}
    moved["mixed-corners"] = moved["empty-index"] = [19]
    found = lines_of(text)
    assert found["continued-line"] == [4, 16]
    assert {kind: lines for kind, lines in found.items() if kind not in OF_THE_FORM} == moved


def test_lines_are_right_after_another_frame_with_other_lines_above() -> None:
    """The lines that the two frames share are two lines further down in the first frame than in the second."""
    reader = ObjReader()
    reader.read(b"# more\n# lines\n" + TEXT)
    problems = reader.read(TEXT).problems
    assert {problem.kind: [place.line for place in problem.places] for problem in problems} == LINES
