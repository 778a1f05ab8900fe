"""Tests of STL and OFF. Sources: the format descriptions and trimesh."""

from __future__ import annotations

import io

import numpy as np
import pytest
import trimesh

from inspector import _native
from inspector.formats.files import off, stl
from inspector.formats.problems import UnreadableFrame
from inspector.formats.registry import format_of
from tests.helpers.gltf import nowhere
from tests.helpers.meshes import wing
from tests.helpers.meshes_out import CUBE, SIDES, mesh_of

BALL = trimesh.creation.icosphere(subdivisions=1)


def test_a_binary_stl_is_84_bytes_and_50_for_each_triangle() -> None:
    # There are 80 bytes of header, a count of 4 bytes, and 12 floats and 2 bytes per triangle (3D Systems, 1989; from
    # memory). trimesh writes the same layout.
    data = BALL.export(file_type="stl")
    assert len(data) == 84 + 50 * len(BALL.faces)
    mesh = stl.read(data, nowhere)
    assert len(mesh.positions) == 3 * len(BALL.faces), "no vertices shared by faces"
    np.testing.assert_array_equal(mesh.positions.reshape(-1, 3, 3), BALL.triangles.astype(np.float32))
    assert len(stl.write(mesh)) == len(data)
    again = trimesh.load(io.BytesIO(stl.write(mesh)), file_type="stl", process=False)
    np.testing.assert_array_equal(again.triangles.astype(np.float32), BALL.triangles.astype(np.float32))
    np.testing.assert_allclose(again.face_normals, BALL.face_normals, atol=1e-6)


def test_a_binary_stl_whose_header_begins_with_solid_is_binary() -> None:
    data = b"solid" + BALL.export(file_type="stl")[5:]
    assert format_of(data, b".stl").id == "stl"
    assert len(stl.read(data, nowhere).positions) == 3 * len(BALL.faces)


def test_attributes_of_triangles_are_named() -> None:
    # The last two bytes of a triangle are the "attribute byte count", 0 (3D Systems, 1989; from memory).
    data = bytearray(BALL.export(file_type="stl"))
    assert not stl.read(bytes(data), nowhere).left_out
    data[84 + 48 : 84 + 50] = b"\x1f\x80"
    (loss,) = stl.read(bytes(data), nowhere).left_out
    assert (loss.seen, "triangle attributes" in loss.what) == (True, True)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_the_text_form_as_trimesh_writes_it(end: str) -> None:
    text = BALL.export(file_type="stl_ascii").replace("\n", end).encode()
    np.testing.assert_allclose(stl.read(text, nowhere).positions.reshape(-1, 3, 3), BALL.triangles, atol=1e-7)


def test_solids_are_objects() -> None:
    facet = "facet normal 0 0 1\nouter loop\n{}endloop\nendfacet\n".format("vertex 0 0 1e-3\n" * 3)
    mesh = stl.read(f"solid bell\n{facet}{facet}endsolid bell\nSOLID arms\n{facet}ENDSOLID\n".encode(), nowhere)
    assert [(str(part.object), part.start, part.stop) for part in mesh.parts] == [("bell", 0, 2), ("arms", 2, 3)]


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (BALL.export(file_type="stl")[:-1], "too-short"),
        (BALL.export(file_type="stl")[:60], "foreign"),
        (BALL.export(file_type="stl_ascii")[:-30].encode(), "too-short"),
        (b"solid\nfacet normal 0 0 0\nvertex 1 2 x\nendsolid\n", "broken-form"),
        (b"solid\nfacet normal 0 0 0\nvertex 1 2 3\nendsolid\n", "broken-form"),
    ],
)
def test_broken_stl_says_why(data: bytes, kind: str) -> None:
    with pytest.raises(UnreadableFrame) as error:
        stl.read(data, nowhere)
    assert error.value.problem.kind == kind


def test_off_with_comments_colours_and_polygons() -> None:
    # Geomview manual, "OFF Files": a face's colour may follow its indices; comments begin with #.
    rows = [" ".join(map(str, row)) for row in CUBE]
    faces = [f"4 {' '.join(map(str, side))} 0.5 0.5 0.5" for side in SIDES]
    mesh = off.read("\n".join(["# kelp", "OFF # here", "", "8 6 0", *rows, "# faces", *faces]).encode(), nowhere)
    assert mesh.positions.tolist() == [list(map(float, row)) for row in CUBE]
    assert mesh.corners.v.tolist() == [index for side in SIDES for index in side]


def test_off_with_normals_and_uvs() -> None:
    mesh = off.read(b"STNOFF\n3 1 0\n0 0 0 0 0 1 .5 .25\n1 0 0 0 0 1 1 0\n0 1 0 0 0 1 0 1\n3 0 1 2\n", nowhere)
    assert mesh.normals.tolist() == [[0, 0, 1]] * 3
    assert mesh.uvs.tolist() == [[0.5, 0.25], [1, 0], [0, 1]]
    again = off.read(off.write(mesh), nowhere)
    np.testing.assert_array_equal(again.uvs, mesh.uvs)
    np.testing.assert_array_equal(again.normals, mesh.normals)


def test_off_as_trimesh_writes_and_reads_it() -> None:
    mesh = off.read(BALL.export(file_type="off").encode(), nowhere)
    np.testing.assert_allclose(mesh.positions, BALL.vertices, atol=1e-9)
    assert mesh.corners.v.reshape(-1, 3).tolist() == BALL.faces.tolist()
    ours = mesh_of(wing(0))
    theirs = trimesh.load(io.BytesIO(off.write(ours)), file_type="off", process=False)
    np.testing.assert_array_equal(np.asarray(theirs.vertices[: len(ours.positions)], np.float32), ours.positions)
    again = off.read(off.write(ours), nowhere)
    np.testing.assert_array_equal(again.positions[again.corners.v], ours.positions[ours.corners.v])
    np.testing.assert_array_equal(again.uvs[again.corners.vt], ours.uvs[ours.corners.vt])


def test_off_is_read_by_words_whatever_the_lines() -> None:
    # Geomview manual, "OFF Files": the text is free-form except for a face's colour, which ends with its line.
    rows = ["8 6", "12", *(" ".join(map(str, row[:2])) + f"\n{row[2]}" for row in CUBE)]
    faces = ["4 0\n1 2", "3 1 0 0", *(f"4\n{' '.join(map(str, side))}" for side in SIDES[1:])]
    mesh = off.read("\n".join(["OFF", *rows, *faces]).encode(), nowhere)
    assert mesh.positions.tolist() == [list(map(float, row)) for row in CUBE]
    assert mesh.corners.v.tolist() == [0, 1, 2, 3, *(index for side in SIDES[1:] for index in side)]
    assert [one.what for one in mesh.left_out] == ["face colours"]


@pytest.mark.parametrize(
    ("row", "opaque"), [("255 0 51", True), ("255 0 51 255", True), ("1 0 .2 1", True), ("1 0 .2 .5", False)]
)
def test_off_with_colours_of_vertices(row: str, opaque: bool) -> None:
    # The manual defines four numbers from 0 to 1. Writers also use three numbers, and integers from 0 to 255 (no
    # source).
    text = "\n".join(["COFF", "3 1 0", *(f"{corner} {row}" for corner in ("0 0 0", "1 0 0", "0 1 0")), "3 0 1 2"])
    mesh = off.read(text.encode(), nowhere)
    assert mesh.colours.tolist() == [[1, 0, 0.2]] * 3
    assert [one.what for one in mesh.left_out] == ([] if opaque else ["the opacity of vertex colours"])
    assert off.read(off.write(mesh), nowhere).colours.tolist() == mesh.colours.tolist()


def test_off_says_on_which_line_it_stops_being_one() -> None:
    with pytest.raises(UnreadableFrame) as error:
        off.read(b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\nthree 0 1 2\n", nowhere)
    assert error.value.problem.places[0].line == 6
    assert error.value.words == "the file breaks the rules of its format: `three` is not a whole number"


def facets(values: np.ndarray, layout: str = "{}\n") -> bytes:
    corner = "      vertex {:e} {:e} {:e}"
    text = "\n".join(
        "\n".join(
            [
                "  facet normal 0 0 1",
                "    outer loop",
                *(corner.format(*point) for point in triangle),
                "    endloop",
                "  endfacet",
            ]
        )
        for triangle in values.tolist()
    )
    return layout.format(f"solid bell\n{text}\nendsolid bell").encode()


def test_text_of_any_layout_is_read() -> None:
    values = np.round(np.random.default_rng(2).normal(size=(40, 3, 3)), 5)
    for text in (facets(values), facets(values).replace(b"\n", b"\r\n"), facets(values).upper(), _on_one_line(values)):
        np.testing.assert_array_equal(stl.read(text, nowhere).positions.reshape(-1, 3, 3), values)


def test_text_of_several_pieces_is_read_in_order() -> None:
    values = np.arange(9.0 * 25_000).reshape(-1, 3, 3)  # 5 MB, more than one piece of 4 MB
    np.testing.assert_array_equal(stl.read(facets(values), nowhere).positions.reshape(-1, 3, 3), values)


@pytest.mark.parametrize("piece", [1, 50, 173, 1000, 4096])
def test_pieces_of_any_size_give_the_same(piece: int, monkeypatch: pytest.MonkeyPatch) -> None:
    values = np.round(np.random.default_rng(5).normal(size=(30, 3, 3)), 5)
    text = facets(values)
    named = text.replace(b"solid bell", b"solid endfacet vertex 1 2 3")
    two = facets(values[:11]) + b"\n" + facets(values[11:]).replace(b"solid bell", b"Solid arms")
    monkeypatch.setattr(stl, "PIECE", piece)
    for one in (text, named, two, text.upper(), _on_one_line(values)):
        for end in (b"\n", b"\r\n", b"\r"):
            mesh = stl.read(one.replace(b"\n", end), nowhere)
            np.testing.assert_array_equal(mesh.positions.reshape(-1, 3, 3), values)
    assert [str(part.object) for part in stl.read(named, nowhere).parts] == ["endfacet vertex 1 2 3"]
    assert [(str(part.object), part.stop) for part in stl.read(two, nowhere).parts] == [("bell", 11), ("arms", 30)]
    for end in (b"\n", b"\r\n", b"\r"):
        bad = text.replace(b"vertex", b"vertex x", 80).replace(b"vertex x", b"vertex", 79).replace(b"\n", end)
        with pytest.raises(UnreadableFrame) as error:
            stl.read(bad, nowhere)
        assert error.value.problem.places[0].line == 1 + 26 * 7 + 4, "the second vertex of the 27th facet"


def test_a_solid_that_has_no_end_before_the_next_is_not_lost() -> None:
    text = facets(np.ones((2, 3, 3))).replace(b"\nendsolid bell", b"\n") + facets(np.zeros((1, 3, 3)))
    mesh = stl.read(text, nowhere)
    assert [(part.start, part.stop) for part in mesh.parts] == [(0, 2), (2, 3)]


def _on_one_line(values: np.ndarray) -> bytes:
    """Return an STL file with each facet on one line, which is allowed."""
    text = facets(values).replace(b"\n", b" ").replace(b"endfacet", b"endfacet\n")
    return text.replace(b"solid bell ", b"solid bell\n", 1).replace(b" endsolid bell", b"endsolid bell\n")


@pytest.mark.parametrize("native", [True, False])
def test_exponents_are_not_read_word_by_word(native: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    # Keywords contain the letter e. Once, this was mistaken for an exponent, so Python read each number separately.
    monkeypatch.setattr("inspector._native.active", native and _native.active)
    monkeypatch.setattr("inspector.formats.wavefront.numbers.read_lines", lambda *_: pytest.fail("line by line"))
    values = np.random.default_rng(3).normal(size=(400, 3, 3))
    np.testing.assert_allclose(stl.read(facets(values), nowhere).positions.reshape(-1, 3, 3), values, atol=1e-6)


def test_a_solid_named_solid_and_words_in_names() -> None:
    text = facets(np.ones((2, 3, 3))).replace(b"solid bell", b"solid solid endsolid vertex 1 2 3", 1)
    mesh = stl.read(text, nowhere)
    assert [str(part.object) for part in mesh.parts] == ["solid endsolid vertex 1 2 3"]
    assert len(mesh.positions) == 6


def test_a_bad_vertex_is_named_by_its_line() -> None:
    text = facets(np.ones((3, 3, 3))).replace(b"      vertex", b"      vertex x", 5).replace(b"vertex x", b"vertex", 4)
    with pytest.raises(UnreadableFrame) as error:
        stl.read(text, nowhere)
    assert error.value.problem.places[0].line == 12


def test_empty_files_have_no_vertices() -> None:
    for data in (bytes(84), b"solid a\nendsolid a\n", b"solid\nendsolid"):
        assert len(stl.read(data, nowhere).positions) == 0
    assert len(off.read(b"OFF\n0 0 0\n", nowhere).positions) == 0
    empty = stl.read(bytes(84), nowhere)
    assert stl.write(empty) == bytes(84)
    assert off.write(empty) == b"OFF\n0 0 0\n"


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"OFF\n3 1 0\n0 0 0\n1 0 0\n", "too-short"),
        (b"OFF BINARY\n", "not-supported"),
        (b"4OFF\n1 0 0\n0 0 0 1\n", "not-supported"),
        (b"OFF\n", "too-short"),
        (b"OFF\nmany 1 0\n", "broken-form"),
        (b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1\n", "too-short"),
        (b"OFF\n-1 1 0\n3 0 0 0\n", "too-short"),
    ],
)
def test_broken_off_says_why(data: bytes, kind: str) -> None:
    with pytest.raises(UnreadableFrame) as error:
        off.read(data, nowhere)
    assert error.value.problem.kind == kind
