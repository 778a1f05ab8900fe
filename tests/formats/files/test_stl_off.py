"""STL and OFF against their documents and against trimesh's reading and writing."""

from __future__ import annotations

import io

import numpy as np
import pytest
import trimesh

from inspector.formats.files import off, stl
from inspector.formats.problems import UnreadableFrame
from inspector.formats.registry import format_of
from tests.formats.files.test_ply import CUBE, SIDES
from tests.helpers.gltf import nowhere
from tests.helpers.meshes import wing
from tests.helpers.meshes_out import mesh_of

BALL = trimesh.creation.icosphere(subdivisions=1)


def test_a_binary_stl_is_84_bytes_and_50_for_each_triangle() -> None:
    # 80 bytes of header, a count of 4 bytes, 12 floats and 2 bytes a triangle (3D Systems, 1989; from memory), and as
    # trimesh writes it.
    data = BALL.export(file_type="stl")
    assert len(data) == 84 + 50 * len(BALL.faces)
    mesh = stl.read(data, nowhere)
    assert len(mesh.positions) == 3 * len(BALL.faces), "no vertices that faces share"
    np.testing.assert_array_equal(mesh.positions.reshape(-1, 3, 3), BALL.triangles.astype(np.float32))
    assert len(stl.write(mesh)) == len(data)
    again = trimesh.load(io.BytesIO(stl.write(mesh)), file_type="stl", process=False)
    np.testing.assert_array_equal(again.triangles.astype(np.float32), BALL.triangles.astype(np.float32))
    np.testing.assert_allclose(again.face_normals, BALL.face_normals, atol=1e-6)


def test_a_binary_stl_whose_header_begins_with_solid_is_binary() -> None:
    data = b"solid" + BALL.export(file_type="stl")[5:]
    assert format_of(data, b".stl").id == "stl"
    assert len(stl.read(data, nowhere).positions) == 3 * len(BALL.faces)


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
    # Geomview manual, "OFF Files": a face's colour may stand behind its indices; comments begin with #.
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
    np.testing.assert_array_equal(np.asarray(theirs.vertices, np.float32), ours.positions)


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"OFF\n3 1 0\n0 0 0\n1 0 0\n", "too-short"),
        (b"OFF BINARY\n", "not-supported"),
        (b"4OFF\n1 0 0\n0 0 0 1\n", "not-supported"),
        (b"OFF\n", "broken-form"),
        (b"OFF\nmany 1 0\n", "broken-form"),
        (b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1\n", "broken-form"),
        (b"OFF\n-1 1 0\n3 0 0 0\n", "too-short"),
    ],
)
def test_broken_off_says_why(data: bytes, kind: str) -> None:
    with pytest.raises(UnreadableFrame) as error:
        off.read(data, nowhere)
    assert error.value.problem.kind == kind
