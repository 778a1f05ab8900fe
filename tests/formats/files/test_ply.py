"""Tests of PLY. Sources: G. Turk, "The PLY Polygon File Format", 1994; trimesh; meshio."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import meshio
import numpy as np
import pytest
import trimesh

from inspector.formats.files import ply
from inspector.formats.frame import ABSENT
from inspector.formats.mesh import corners_of
from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.gltf import nowhere
from tests.helpers.meshes import torus, wing
from tests.helpers.meshes_out import CUBE, SIDES, mesh_of, of_frame, ply_binary, ply_text

HEADER = [
    *("format ascii 1.0", "comment made by anonymous", "comment this file is a cube", "element vertex 8"),
    *("property float32 x", "property float32 y", "property float32 z"),
    *("element face 6", "property list uint8 int32 vertex_index"),
]
ROWS = [" ".join(map(str, row)) for row in [*CUBE, *((4, *side) for side in SIDES)]]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_the_cube_of_the_document(end: str) -> None:
    # Header lines end with a carriage return (1994 document); in practice, also with a line feed or both.
    mesh = ply.read(ply_text(HEADER, ROWS, end), nowhere)
    assert mesh.positions.tolist() == [list(map(float, row)) for row in CUBE]
    assert mesh.positions.dtype == np.float32
    assert mesh.corners.v.tolist() == [index for side in SIDES for index in side]
    assert mesh.corners.sizes.tolist() == [4] * 6
    assert (mesh.corners.vt == ABSENT).all()


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("faces", [SIDES, [(0, 1, 2), (7, 6, 5, 4), (0, 4, 5, 1, 2)]], ids=["even", "uneven"])
def test_binary_of_both_orders(order: str, faces: list[tuple[int, ...]]) -> None:
    mesh = ply.read(ply_binary(order, [(x / 3, y, z) for x, y, z in CUBE], faces), nowhere)
    assert mesh.positions.dtype == np.float64
    assert mesh.positions[4].tolist() == [1 / 3, 0, 0]
    assert mesh.corners.v.tolist() == [index for face in faces for index in face]
    assert mesh.corners.sizes.tolist() == [len(face) for face in faces]


def test_elements_and_properties_in_any_order_and_unknown_ones_are_passed_over() -> None:
    header = [
        *("format ascii 1.0", "element edge 1", "property int a", "property list uchar float b"),
        *("element vertex 3", "property uchar red", "property double z", "property double y", "property double x"),
        *("element face 1", "property uchar flags", "property list uchar uint vertex_indices", "property float w"),
    ]
    mesh = ply.read(ply_text(header, ["7 2 .5 .5", "255 3 2 1", "0 6 5 4", "0 9 8 7", "1 3 2 1 0 .5"]), nowhere)
    assert mesh.positions.tolist() == [[1, 2, 3], [4, 5, 6], [7, 8, 9]]
    assert mesh.corners.v.tolist() == [2, 1, 0]


def test_uvs_and_normals_of_vertices_stand_by_the_vertices_indices() -> None:
    names = ("x", "y", "z", "nx", "ny", "nz", "s", "t")
    header = ["format ascii 1.0", "element vertex 3", *(f"property float {name}" for name in names)]
    header += ["element face 1", "property list uchar int vertex_indices"]
    mesh = ply.read(ply_text(header, ["0 0 0 0 0 1 .25 .5", "1 0 0 0 0 1 1 0", "0 1 0 0 0 1 0 1", "3 0 1 2"]), nowhere)
    assert mesh.uvs.tolist() == [[0.25, 0.5], [1, 0], [0, 1]]
    assert mesh.normals.tolist() == [[0, 0, 1]] * 3
    assert mesh.corners.vt.tolist() == mesh.corners.vn.tolist() == [0, 1, 2]


def test_what_is_written_reads_back_with_polygons_seams_and_order() -> None:
    mesh = mesh_of(wing(0.3))
    again = ply.read(ply.write(mesh), nowhere)
    # The vertices are as before, followed by one vertex for each additional UV of a vertex.
    count, pairs = len(mesh.positions), set(zip(mesh.corners.v.tolist(), mesh.corners.vt.tolist(), strict=True))
    np.testing.assert_array_equal(again.positions[:count], mesh.positions)
    assert len(again.positions) == len(pairs) > count
    assert (again.corners.v == mesh.corners.v).mean() > 0.5
    np.testing.assert_array_equal(again.positions[again.corners.v], mesh.positions[mesh.corners.v])
    np.testing.assert_array_equal(again.corners.offsets, mesh.corners.offsets)
    np.testing.assert_array_equal(again.uvs[again.corners.vt], mesh.uvs[mesh.corners.vt])


MIXED = read_frame(
    b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 2 0 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\nvt .5 .25\n"
    b"f 1/1 2/2 3/3 4/4\nf 2/1 5/5 3/3\n"
)
"""A square and a triangle, with a seam at vertex 2."""


def test_common_libraries_read_mixed_polygons_with_seams(tmp_path: Path) -> None:
    data = ply.write(of_frame(MIXED))
    theirs = trimesh.load(io.BytesIO(data), file_type="ply", process=False)
    assert sorted(theirs.area_faces.tolist()) == [0.5, 0.5, 0.5]  # the square is split
    (tmp_path / "mixed.ply").write_bytes(data)
    other = meshio.read(tmp_path / "mixed.ply")
    cells = {cell.type: cell.data for cell in other.cells}
    assert {kind: len(found) for kind, found in cells.items()} == {"quad": 1, "triangle": 1}
    uvs = np.column_stack([other.point_data["s"], other.point_data["t"]])
    assert other.points[cells["triangle"][0]].tolist() == [[1, 0, 0], [2, 0, 0], [1, 1, 0]]
    assert uvs[cells["triangle"][0]].tolist() == [[0, 0], [0.5, 0.25], [1, 1]]
    assert uvs[cells["quad"][0]].tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]


def test_partial_uvs_are_kept() -> None:
    bare = read_frame(MIXED.data.replace(b"f 2/1 5/5 3/3", b"f 2 5 3"))
    again = ply.read(ply.write(of_frame(bare)), nowhere)
    assert again.corners.v.tolist() == bare.corners.v.tolist()
    assert again.uvs[again.corners.vt[:4]].tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]
    assert again.corners.vt[4:].tolist() == [ABSENT] * 3


@pytest.mark.parametrize(
    ("kind", "row", "colours"),
    [
        ("uchar", "255 0 51", [1.0, 0.0, 0.2]),
        ("ushort", "65535 0 13107", [1.0, 0.0, 0.2]),
        ("float", "1 0 0.25", [1.0, 0.0, 0.25]),
    ],
)
def test_colours_of_vertices(kind: str, row: str, colours: list[float]) -> None:
    names = [f"property {kind} {name}" for name in ("red", "green", "blue")]
    header = ["format ascii 1.0", "element vertex 3", *(f"property float {axis}" for axis in "xyz"), *names]
    mesh = ply.read(ply_text(header, [f"{corner} {row}" for corner in ("0 0 0", "1 0 0", "0 1 0")]), nowhere)
    assert mesh.colours.tolist() == [colours] * 3
    assert mesh.left_out == ()
    again = ply.read(ply.write(mesh), nowhere)
    assert again.colours.tolist() == [colours] * 3


def test_trimesh_and_meshio_see_the_colours(tmp_path: Path) -> None:
    mesh = replace(of_frame(MIXED), uvs=np.zeros((0, 2)), colours=np.array([[1, 0, 0.2]] * 4 + [[0, 1, 0.4]]))
    mesh = replace(mesh, corners=corners_of(mesh.corners.offsets, mesh.corners.v))
    data = ply.write(mesh)
    theirs = trimesh.load(io.BytesIO(data), file_type="ply", process=False)
    assert theirs.visual.vertex_colors[:, :3].tolist() == [[255, 0, 51]] * 4 + [[0, 255, 102]]
    (tmp_path / "colours.ply").write_bytes(data)
    assert meshio.read(tmp_path / "colours.ply").point_data["blue"].tolist() == [51.0] * 4 + [102.0]


def test_what_is_read_past_is_named() -> None:
    header = ["format ascii 1.0", "comment TextureFile skin.png", "element vertex 3"]
    header += [f"property float {axis}" for axis in "xyz"]
    header += [f"property uchar {name}" for name in ("red", "green", "blue", "alpha")]
    header += ["property float quality", "element face 1", "property list uchar int vertex_indices"]
    header += [f"property uchar {name}" for name in ("red", "green", "blue")]
    header += ["element tristrips 1", "property list int int vertex_indices"]
    rows = ["0 0 0 9 9 9 128 .5", "1 0 0 9 9 9 128 .5", "0 1 0 9 9 9 128 .5", "3 0 1 2 1 2 3", "3 0 1 2"]
    assert {one.what: one.seen for one in ply.read(ply_text(header, rows), nowhere).left_out} == {
        "the opacity of vertex colours": True,
        "vertex properties: quality": False,
        "face colours": True,
        "the PLY element `tristrips`": True,
        "the texture named in the line `comment TextureFile skin.png`": True,
    }
    opaque = [row.replace("128", "255") for row in rows]
    assert "opacity" not in str(ply.read(ply_text(header, opaque), nowhere).left_out)


def test_rows_with_more_values_than_announced_are_read_by_lines() -> None:
    # "Each element is on one line" in the ASCII form (1994 document).
    wide = [f"{row} 0.599829" for row in ROWS]
    mesh = ply.read(ply_text(HEADER, wide), nowhere)
    assert mesh.positions.tolist() == [list(map(float, row)) for row in CUBE]
    assert mesh.corners.v.tolist() == [index for side in SIDES for index in side]
    assert [one.what for one in mesh.left_out] == ["surplus values at the ends of rows"]


def test_an_empty_mesh_has_no_vertices() -> None:
    mesh = ply.read(ply_text([HEADER[0], "element vertex 0", *HEADER[4:7], "element face 0", HEADER[-1]], []), nowhere)
    assert len(mesh.positions) == 0
    assert len(ply.read(ply.write(mesh), nowhere).positions) == 0


def test_a_word_that_is_no_number_is_named_with_its_line() -> None:
    with pytest.raises(UnreadableFrame) as error:
        ply.read(ply_text(HEADER, ["0 0 zero", *ROWS[1:]]), nowhere)
    assert error.value.words == "the file breaks the rules of its format: `zero` is not a number"
    assert error.value.problem.places[0].line == len(HEADER) + 3


@pytest.mark.parametrize("value", ["300", "-5", "1.7", "nan"])
@pytest.mark.parametrize("lines", ["one row per line", "rows of different lengths"])
def test_a_number_that_does_not_fit_its_type_is_named_with_its_line(value: str, lines: str) -> None:
    """A `uchar` is an 8-bit unsigned integer (Turk 1994). A number that doesn't fit must not become another number."""
    header = ["format ascii 1.0", "element vertex 3", *(f"property float {axis}" for axis in "xyz")]
    rows = ["0 0 0 255", f"1 0 0 {value}", "0 1 0 0"]
    if lines != "one row per line":
        rows[0] += " 7"
    with pytest.raises(UnreadableFrame) as error:
        ply.read(ply_text([*header, "property uchar red"], rows), nowhere)
    assert error.value.words.endswith("a number doesn't fit the type that the header declares for it")
    assert error.value.problem.places[0].line == len(header) + 5


def test_an_index_that_does_not_fit_its_type_is_refused() -> None:
    rows = [*ROWS[:-1], ROWS[-1].rsplit(" ", 1)[0] + " 4294967298"]
    with pytest.raises(UnreadableFrame, match="doesn't fit the type"):
        ply.read(ply_text(HEADER, rows), nowhere)


def test_trimesh_and_meshio_read_what_is_written(tmp_path: Path) -> None:
    mesh = mesh_of(torus(12, 8))
    data = ply.write(mesh)
    theirs = trimesh.load(io.BytesIO(data), file_type="ply", process=False)
    # trimesh gives each UV a separate vertex, so the pairs of positions and UVs are compared.
    pairs = np.column_stack([mesh.positions[mesh.corners.v], mesh.uvs[mesh.corners.vt]])
    others = np.column_stack([theirs.vertices, theirs.visual.uv]).astype(np.float32)
    np.testing.assert_array_equal(np.unique(others, axis=0), np.unique(pairs, axis=0))
    # The only lists that meshio reads are those of the faces.
    (tmp_path / "torus.ply").write_bytes(ply.write(replace(mesh, uvs=np.zeros((0, 2)))))
    other = meshio.read(tmp_path / "torus.ply")
    np.testing.assert_array_equal(other.points.astype(np.float32), mesh.positions)


def test_what_trimesh_writes_is_read() -> None:
    box = trimesh.creation.icosphere(subdivisions=2)
    for text in ("ascii", "binary"):
        mesh = ply.read(box.export(file_type="ply", encoding=text), nowhere)
        np.testing.assert_allclose(mesh.positions, box.vertices, atol=1e-7)
        assert mesh.corners.v.reshape(-1, 3).tolist() == box.faces.tolist()


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (ply_text(HEADER, ROWS[:9]), "too-short"),
        (ply_text(HEADER, ROWS[:5]), "too-short"),
        (ply_binary("<", CUBE, SIDES)[:-3], "too-short"),
        (ply_binary("<", CUBE, SIDES)[:200], "too-short"),
        (b"ply\nformat ascii 1.0\nelement vertex 1\n", "broken-form"),
        (ply_text(["format ascii 1.0", "elephant vertex 1"], []), "broken-form"),
        (ply_text(["element vertex 0"], []), "broken-form"),
        (ply_text([*HEADER[:3], "element vertex 8", "property float x"], ["1"] * 8), "no-mesh"),
        (ply_text(HEADER, ["a b c", *ROWS[1:]]), "broken-form"),
        (ply_text([HEADER[0], "element vertex 99999999999", *HEADER[4:7]], ["0 0 0"]), "too-short"),
    ],
)
def test_files_that_break_the_rules_say_which(data: bytes, kind: str) -> None:
    with pytest.raises(UnreadableFrame) as error:
        ply.read(data, nowhere)
    assert error.value.problem.kind == kind
