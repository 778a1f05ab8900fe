"""Tests of material libraries. "MTL" stands for "MTL File Formats 4.2, 1995", which is quoted from memory."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from inspector.errors import MeshqcError, Refusal
from inspector.formats.problems import KINDS
from inspector.formats.wavefront.library import Library, merge_libraries, read_library
from inspector.names import Name

# MTL: the statements in its section on texture maps, and its reflection map.
DOCUMENT = b"""newmtl textured
Ka 1.0000 1.0000 1.0000
Kd 1.0000 1.0000 1.0000
illum 2
map_Ka -s 1 1 1 -o 0 0 0 -mm 0 1 chrome.mpc
map_Kd -s 1 1 1 -o 0 0 0 -mm 0 1 chrome.mpc
map_Ks -s 1 1 1 -o 0 0 0 -mm 0 1 chrome.mpc
map_Ns -s 1 1 1 -o 0 0 0 -mm 0 1 wisp.mps
map_d -s 1 1 1 -o 0 0 0 -mm 0 1 wisp.mps
disp -s 1 1 .5 wisp.mps
decal -s 1 1 1 -o 0 0 0 -mm 0 1 sand.mps
bump -s 1 1 1 -o 0 0 0 -bm 1 sand.mpb
refl -type sphere -mm 0 1 clouds.mpc
"""


def kinds(library: Library) -> dict[str, int]:
    return {problem.kind: problem.count for problem in library.problems}


def names(library: Library) -> list[bytes]:
    return [line.name.raw for line in library.maps]


def test_the_documents_maps() -> None:
    library = read_library(DOCUMENT)
    assert [name.raw for name in library.materials] == [b"textured"]
    assert names(library) == re.findall(rb"\S+\.mp[a-z]$", DOCUMENT, re.MULTILINE)
    assert [line.statement.raw for line in library.maps] == re.findall(
        rb"^(?:map_\w+|disp|decal|bump|refl)", DOCUMENT, re.MULTILINE
    )
    assert library.maps[0].options == (b"-s", b"1", b"1", b"1", b"-o", b"0", b"0", b"0", b"-mm", b"0", b"1")
    assert library.maps[-1].options == (b"-type", b"sphere", b"-mm", b"0", b"1")
    assert [line.line for line in library.maps] == list(range(5, 14))
    assert {line.material.raw for line in library.maps} == {b"textured"}
    assert library.problems == ()


@pytest.mark.parametrize(
    ("rest", "options", "name"),
    [
        # MTL: -blendu, -blendv, -clamp and -cc take on or off, -boost and -texres a number, -imfchan a channel.
        (b"-blendu off -blendv on -clamp on -cc off t.png", 8, b"t.png"),
        (b"-boost 1.5 -texres 512 -imfchan l t.png", 6, b"t.png"),
        # MTL: v and w of -o, -s and -t are optional.
        (b"-s 2 t.png", 2, b"t.png"),
        (b"-o .5 -1e-2 t.png", 3, b"t.png"),
        (b"-t 0 0 0 -bm -0.3 t.png", 6, b"t.png"),
        # The last word is always the name.
        (b"-s 1 1 1", 3, b"1"),
        (b"-s 2 3", 2, b"3"),
        (b"-s 1 1 1 4", 4, b"4"),
        (b"-mm 0", 1, b"0"),
        (b"-bm", 0, b"-bm"),
        # Numbers end before the first word that is not a number.
        (b"-s 1 1 2.png", 3, b"2.png"),
        # Common practice, no source: names with spaces, hashes or leading hyphens; options in capitals.
        (b"-bm 1  my  reef #2.png", 2, b"my  reef #2.png"),
        (b"-BM 1 t.png", 2, b"t.png"),
        (b"-reef.png", 0, b"-reef.png"),
        (b"a -s 1 1 1.png", 0, b"a -s 1 1 1.png"),
        (b"C:\\tex dir\\t.png", 0, b"C:\\tex dir\\t.png"),
    ],
)
def test_options_and_name(rest: bytes, options: int, name: bytes) -> None:
    (line,) = read_library(b"newmtl m\nmap_bump " + rest + b" \t\r\n").maps
    assert line.name.raw == name
    assert list(line.options) == rest.split()[:options]


MTL_MAPS = [b"map_Ka", b"map_Kd", b"map_Ks", b"map_Ns", b"map_d", b"decal", b"disp", b"bump", b"refl"]
LATER_MAPS = [b"map_Bump", b"norm", b"map_Pr", b"map_Pm", b"map_Ps", b"map_Ke"]  # common practice, no source


@pytest.mark.parametrize("keyword", [*MTL_MAPS, *LATER_MAPS])
def test_every_map_statement_in_any_case(keyword: bytes) -> None:
    for written in (keyword, keyword.lower(), keyword.upper()):
        (line,) = read_library(b"newmtl m\n" + written + b" t.png").maps
        assert (line.statement.raw, line.name.raw) == (written, b"t.png")


@pytest.mark.parametrize(
    "statement", [b"Kd 1 1 1", b"map_aat on", b"illum 2", b"d 0.5", b"# map_Kd t.png", b"spectral x"]
)
def test_other_statements_name_no_map(statement: bytes) -> None:
    assert read_library(b"newmtl m\n" + statement).maps == ()


def test_hostile_names_keep_their_bytes() -> None:
    """Only CR and LF end a line, and only ASCII spaces and tabs separate words. NEL, NBSP, U+2028 and undecodable bytes
    are part of names."""
    material = b"Grey #1 \xc2\x85\xe2\x80\xa8\xff\x1b[2J"
    image = b"a\xc2\xa0b\xc2\x85c\xe2\x80\xa8\x1b]0;x\x07.png"
    library = read_library(b"\tnewmtl  " + material + b" \t\n\x0bmap_Kd\t" + image + b"  ")
    assert [name.raw for name in library.materials] == [material]
    assert names(library) == [image]
    assert not set("\x1b\x07\x85\u2028") & set(library.maps[0].name.display)


@pytest.mark.parametrize("newline", [b"\n", b"\r\n", b"\r"])
def test_lines_are_counted_for_each_newline(newline: bytes) -> None:
    data = newline.join([b"# made", b"", b"newmtl a", b"Kd 1 1 1", b"map_Kd t.png", b""])
    library = read_library(data)
    assert [(line.line, data[line.start : line.stop]) for line in library.maps] == [(5, b"t.png")]
    assert [name.raw for name in library.materials] == [b"a"]


def test_mixed_newlines() -> None:
    library = read_library(b"newmtl a\r\nmap_Kd 1.png\rmap_Ks 2.png\nmap_d 3.png")
    assert [(line.line, line.name.raw) for line in library.maps] == [(2, b"1.png"), (3, b"2.png"), (4, b"3.png")]


def test_byte_order_mark() -> None:
    library = read_library(b"\xef\xbb\xbfnewmtl a\nmap_Kd t.png\n")
    assert [name.raw for name in library.materials] == [b"a"]
    assert kinds(library) == {"byte-order-mark": 1}
    assert library.with_map_names({0: b"u.png"}).data == b"\xef\xbb\xbfnewmtl a\nmap_Kd u.png\n"
    first = read_library(b"\xef\xbb\xbfmap_Kd t.png # skin\nnewmtl a\n")
    assert first.with_map_names({0: b"u.png"}).data == b"\xef\xbb\xbf# skin\nmap_Kd u.png\nnewmtl a\n"


@pytest.mark.parametrize("codec", ["utf-16-le", "utf-16-be"])
def test_utf16(codec: str) -> None:
    library = read_library("\ufeffnewmtl Möwe\nmap_Kd t.png\n".encode(codec))
    assert [name.raw for name in library.materials] == ["Möwe".encode()]
    assert kinds(library) == {"utf-16": 1}


@pytest.mark.parametrize(
    ("data", "kind", "line"),
    [
        (b"", "empty", 1),
        (b" \r\n\n", "empty", 1),
        (b"<html>\n</html>\n", "no-material", 1),
        (b"newmtl a\n\0\0\0\0", "nul-run", 2),
        (b"Kd 1 1 1\nnewmtl a\n", "before-material", 1),
        (b"newmtl \nKd 1 1 1\n", "unnamed-material", 1),
        (b"newmtl a\nmap_Kd \nmap_Ks\n", "map-without-name", 2),
        (b"newmtl a\nKd 1 0 0\nnewmtl a\nKd 0 1 0\n", "duplicate-material", 3),
    ],
)
def test_problems(data: bytes, kind: str, line: int) -> None:
    problems = {problem.kind: problem for problem in read_library(data).problems}
    assert problems[kind].places[0].line == line
    assert kind in KINDS


def test_a_material_repeated_alike_is_no_problem() -> None:
    library = read_library(b"newmtl a\nKd 1 0 0\nnewmtl a\nkd 1.0 0.0 0\n")
    assert [name.raw for name in library.materials] == [b"a", b"a"]
    assert library.problems == ()


def test_map_before_the_first_material() -> None:
    library = read_library(b"map_Kd t.png\nnewmtl a\nmap_Kd u.png\n")
    assert [(line.material.raw, line.name.raw) for line in library.maps] == [(b"", b"t.png"), (b"a", b"u.png")]


def test_splicing_changes_the_names_alone() -> None:
    data = b"# a\r\nnewmtl M\r\n  map_Kd -s 1 1 1  C:\\t a.png \t\r\nKd 1 1 1\rmap_Bump -bm 2 b.png"
    changed = read_library(data).with_map_names({1: b"textures/b.png", 0: b"textures/t a.png"}).data
    expected = data.replace(b"C:\\t a.png", b"textures/t a.png").replace(b"b.png", b"textures/b.png")
    assert changed == expected
    assert read_library(data).with_map_names({}).data == data


@pytest.mark.parametrize("name", [b"", b" ", b"a\nnewmtl b", b"a\r", b" a", b"a ", b"-s 1 x"])
def test_a_name_that_would_be_read_as_another_is_refused(name: bytes) -> None:
    with pytest.raises(Refusal):
        read_library(b"newmtl m\nmap_Kd t.png\nmap_Ks u.png\n").with_map_names({0: name})


@given(st.binary(max_size=200))
def test_any_bytes_are_read_and_spans_are_true(data: bytes) -> None:
    assume(not re.search(rb"\\[\r\n]", data))  # the span of a continued name includes the continuation
    library = read_library(b"newmtl m\nmap_Kd " + data)
    assert all(library.data[line.start : line.stop] == line.name.raw for line in library.maps)
    names = {index: line.name.raw for index, line in enumerate(library.maps)}
    assert library.with_map_names(names).data == library.data


def test_statements_of_one_material() -> None:
    library = read_library(b"\xef\xbb\xbfKd 1 1 1\nnewmtl a\r\n# Kd\r\n Kd 0 1 0 \n\nnewmtl b\rmap_Kd t.png")
    found = [[(one.line, one.written, one.rest) for one in library.statements(each)] for each in library.definitions]
    assert found == [
        [(2, b"newmtl", b"a"), (4, b"Kd", b"0 1 0")],
        [(6, b"newmtl", b"b"), (7, b"map_Kd", b"t.png")],
    ]
    assert all(
        library.data[one.rest_start :].startswith(one.rest) for one in library.statements(library.definitions[0])
    )


SAME: list[Callable[[bytes], bytes]] = [
    lambda data: data.replace(b"\n", b"\r\n"),
    lambda data: b"# header\n" + data.replace(b"illum", b"# about\n\n  illum"),
    lambda data: data.replace(b"1.0000", b"1"),
    lambda data: data.replace(b"map_Kd", b"MAP_KD").replace(b"Ka", b"ka"),
    lambda data: data.replace(b"Kd 1.0000 1.0000 1.0000\nillum 2\n", b"illum\t2 \nKd 1.0 1e0 +1\n"),
]
OTHER: list[Callable[[bytes], bytes]] = [
    lambda data: data.replace(b"Kd 1.0000", b"Kd 0.9999", 1),
    lambda data: data.replace(b"chrome.mpc", b"Chrome.mpc", 1),
    lambda data: data.replace(b"chrome.mpc", b"tex/chrome.mpc", 1),
    lambda data: data.replace(b"-bm 1", b"-bm 2"),
    lambda data: data.replace(b"illum 2\n", b""),
]


@pytest.mark.parametrize("change", SAME)
def test_bodies_equal(change: Callable[[bytes], bytes]) -> None:
    assert change(DOCUMENT) != DOCUMENT
    assert read_library(change(DOCUMENT)).bodies == read_library(DOCUMENT).bodies


@pytest.mark.parametrize("change", OTHER)
def test_bodies_differ(change: Callable[[bytes], bytes]) -> None:
    assert read_library(change(DOCUMENT)).bodies != read_library(DOCUMENT).bodies


def test_bodies_take_backslashes_as_slashes() -> None:
    one, other = read_library(b"newmtl a\nmap_Kd t\\a.png"), read_library(b"newmtl a\nmap_Kd t/a.png")
    assert one.bodies == other.bodies == {Name(b"a"): b"map_kd t/a.png"}


def test_merge_keeps_each_material_as_written() -> None:
    red = b"# library of the manta\r\nnewmtl red\r\nKd 1 0 0 # warm\r\n\r\n"
    blue = b"newmtl blue\r\nKd 0 0 1"
    merged = merge_libraries([read_library(red), read_library(b"\xef\xbb\xbf" + blue), read_library(red + blue)])
    assert merged == red + blue
    assert merge_libraries([read_library(blue), read_library(b"newmtl green\n")]) == blue + b"\r\nnewmtl green\n"


def test_merge_of_one_is_the_same_and_of_none_is_empty() -> None:
    assert merge_libraries([read_library(DOCUMENT)]) == DOCUMENT
    assert merge_libraries([read_library(DOCUMENT)] * 3) == DOCUMENT
    assert merge_libraries([]) == b""


def test_merge_refuses_two_definitions() -> None:
    one, other = read_library(b"newmtl a\x1b\nKd 1 0 0\n"), read_library(b"newmtl a\x1b\nKd 0 1 0\n")
    with pytest.raises(MeshqcError, match=r"`a\\x1b`"):
        merge_libraries([one, other])


@pytest.mark.parametrize(
    ("rest", "name", "options", "comment"),
    [
        (b"tex.png -bm 0.5", b"tex.png", (b"-bm", b"0.5"), b""),
        (b"tex.png -o 1 2 -clamp on", b"tex.png", (b"-o", b"1", b"2", b"-clamp", b"on"), b""),
        (b"my tex.png # from the scan", b"my tex.png", (), b"# from the scan"),
        (b"tex.png -bm 2 # high", b"tex.png", (b"-bm", b"2"), b"# high"),
        (b"grey #1.png", b"grey #1.png", (), b""),
        (b"fin -left.png", b"fin -left.png", (), b""),
        (b"tex.png -unheard 1", b"tex.png -unheard 1", (), b""),
    ],
)
def test_what_follows_a_name(rest: bytes, name: bytes, options: tuple[bytes, ...], comment: bytes) -> None:
    (line,) = read_library(b"newmtl skin\nbump -s 2 2 " + rest + b"\n").maps
    assert (line.name.raw, line.options) == (name, (b"-s", b"2", b"2"))
    assert (line.after.options, line.after.comment) == (options, comment)


def test_what_follows_a_name_goes_before_it_where_that_is_written_again() -> None:
    library = read_library(b"newmtl skin\r\n  bump a.png -bm 2 # high\r\nKd 1 1 1\r\n")
    again = library.with_map_names({0: b"maps/a.png"})
    assert again.data == b"newmtl skin\r\n# high\r\n  bump -bm 2 maps/a.png\r\nKd 1 1 1\r\n"


def test_a_colour_space_is_an_option() -> None:
    (line,) = read_library(b"newmtl skin\nmap_Kd -colorspace sRGB tex.png\n").maps
    assert (line.name.raw, line.options) == (b"tex.png", (b"-colorspace", b"sRGB"))


def test_a_continued_statement_is_one_on_its_first_line() -> None:
    data = b"newmtl skin\nmap_Kd \\\n  tex.png\n# a path\\\nbump -bm \\\r\n 2 high.png\nKd 1 \\\n 0 0\nd 1\n"
    library = read_library(data)
    assert [(line.name.raw, line.line) for line in library.maps] == [(b"tex.png", 2), (b"high.png", 5)]
    assert [data[line.start : line.stop] for line in library.maps] == [b"tex.png", b"high.png"]
    statements = library.statements(library.definitions[0])
    assert [(one.keyword, one.rest.split(), one.line) for one in statements[3:]] == [
        (b"kd", [b"1", b"0", b"0"], 7),
        (b"d", [b"1"], 9),
    ]
    assert [(one.kind, one.places[0].line) for one in library.problems] == [("continued-line", 2)]
