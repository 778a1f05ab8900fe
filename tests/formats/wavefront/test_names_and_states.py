"""Tests of names in a frame, and of the faces to which they apply. The names were observed in public data.

Source: OBJ format document (Appendix B1, version 3.0), "state-setting" statements.
"""

from __future__ import annotations

import unicodedata

import pytest

from inspector.formats.wavefront.reader import read_frame
from tests.helpers.obj_lines import FACE, V, reported

NAMES = [
    b"Grey #1",
    b"my red",
    b"A\\B",
    b"caf\xe9",  # Latin-1
    "Überzug".encode(),
    b"one\x85two",  # NEL in Latin-1, at which str.splitlines would split
    "a\u0085b".encode(),
    "a\u00a0b".encode(),
    "a\u2028b".encode(),
    b"\xff\xfe\x80",
    b"tab\tinside",
    b"form\x0cfeed and\x0bvertical\x1cseparator",
    b"\x1b[31mred",
    b"f 1 2 3",
]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("end", [b"\n", b"  \t\r\n", b"\r"], ids=["LF", "blanks and CRLF", "CR"])
def test_names_keep_their_bytes_and_cut_nothing(name: bytes, end: bytes) -> None:
    r"""Only \r and \n end a name, and only spaces and tabs around it are removed."""
    lines = [b"mtllib  " + name, b"o " + name, b"g\t" + name, *V.splitlines(), b" usemtl " + name, b"f 1 2 3"]
    frame = read_frame(b"".join(line + end for line in lines))
    (run,) = frame.runs
    assert {of.raw for of in (run.material, run.group, run.object, frame.libraries[0].name) if of} == {name}
    assert frame.faces == 1
    assert run.material is not None
    # Unicode 15, general categories: controls, formats, surrogates, and line and paragraph separators act on a screen.
    acting = {"Cc", "Cf", "Cs", "Zl", "Zp"}
    assert not acting & {unicodedata.category(character) for character in run.material.display}
    assert set(reported(frame)) <= {"bare-returns", "not-utf8"}


def test_states_hold_until_set_again_and_none_resets_another() -> None:
    text = b"usemtl a\ng one two\n" + V + FACE + b"g three\n" + FACE + b"o x\ns off\n" + FACE + b"usemtl\n" + FACE
    runs = read_frame(text).runs
    assert [run.material.raw if run.material else None for run in runs] == [b"a", b"a", b"a", b""]
    assert [run.group.raw if run.group else None for run in runs] == [b"one two", b"three", b"three", b"three"]
    assert [run.object.raw if run.object else None for run in runs] == [None, None, b"x", b"x"]
    assert [run.smoothing.raw if run.smoothing else None for run in runs] == [None, None, b"off", b"off"]


def test_of_two_states_in_a_row_the_last_one_holds() -> None:
    frame = read_frame(V + b"usemtl a\nusemtl b\n" + FACE)
    assert [name.raw for name in frame.materials] == [b"b"]


def test_every_library_line_is_kept_as_written() -> None:
    lines = [b"my file.mtl", b'"quoted one.mtl"', b"a.mtl b.mtl", b"C:\\show\\m.mtl", b"../m.mtl"]
    frame = read_frame(b"".join(b"mtllib " + line + b"\n" for line in lines) + V + FACE + b"mtllib late.mtl\n")
    assert [(of.name.raw, of.line) for of in frame.libraries] == [
        *((line, number) for number, line in enumerate(lines, 1)),
        (b"late.mtl", 10),
    ]
