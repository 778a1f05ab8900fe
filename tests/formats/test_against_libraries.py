"""Tests of the OBJ reader against other readers and against geometry that is known exactly.

Each reader is used only for what it reads correctly (tested with files):

- tinyobjloader 2.0.0rc13 without triangulation: counts, positive and negative indices, polygon sizes, and the material
  of each face
- trimesh with process=False: area, volume and watertightness
- meshio: positive indices

Euler's polyhedron formula: V - E + F = 2 on a sphere, 0 on a torus. Areas: sphere 4 pi r^2, torus 4 pi^2 R r (Pappus).
"""

from __future__ import annotations

from pathlib import Path

import meshio
import numpy as np
import numpy.typing as npt
import pytest
import tinyobjloader
import trimesh

from inspector.formats.frame import Frame
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.meshes import Mesh, mapped, plain, prism, sphere, torus, wing

RELATIVE = b"""\
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt 0 0
vt 1 0
vt 1 1
vt 0 1
usemtl back
f -4/-4 -3/-3 -2/-2 -1/-1
v 2 0 0
v 2 1 0
vt 2 0
vt 2 1
usemtl belly
f 2/2 -2/-2 -1/-1 3/3
usemtl back
f -6/-6 -5/-5 -4/-4
"""


def several_materials(mesh: Mesh) -> bytes:
    head, *faces = mesh.text().split(b"\nf ")
    names = (b"back", b"belly", b"fin")
    changes = (b"\nusemtl " + names[at // 3 % 3] if at % 3 == 0 else b"" for at in range(len(faces)))
    return head + b"".join(change + b"\nf " + face for change, face in zip(changes, faces, strict=True))


MESHES = {
    "sphere": sphere(7, 12),
    "torus": torus(9, 5),
    "wing": wing(3),
    "prism of 12 sides": prism(12),
    "prism of 32 sides": prism(32),
}
TEXTS = {name: mesh.text() for name, mesh in MESHES.items()}
TEXTS |= {f"{name}, several materials": several_materials(mesh) for name, mesh in MESHES.items()}
TEXTS["negative and interleaved"] = RELATIVE


def with_tinyobjloader(path: Path) -> tuple[tinyobjloader.ObjReader, tinyobjloader.shape_t]:
    reader, config = tinyobjloader.ObjReader(), tinyobjloader.ObjReaderConfig()
    config.triangulate = False
    assert reader.ParseFromFile(str(path), config), reader.Error()
    (shape,) = reader.GetShapes()
    return reader, shape


def materials_of_faces(frame: Frame) -> list[bytes | None]:
    return [run.material.raw if run.material else None for run in frame.runs for _ in range(run.stop - run.start)]


def write_with_library(folder: Path, text: bytes) -> Path:
    path = folder / "frame.obj"
    path.write_bytes(b"mtllib m.mtl\n" + text)
    names = ("back", "belly", "fin", "skin", "manta_skin")
    (folder / "m.mtl").write_text("".join(f"newmtl {name}\nKd 1 1 1\n" for name in names))
    (folder / "manta.mtl").write_text("newmtl skin\nKd 1 1 1\n")
    return path


@pytest.mark.parametrize("name", TEXTS)
def test_counts_indices_sizes_and_materials_agree_with_tinyobjloader(name: str, tmp_path: Path) -> None:
    agrees_with_tinyobjloader(write_with_library(tmp_path, TEXTS[name]))


@pytest.mark.parametrize("file", ["manta/manta.0001.obj", "manta/manta.0017.obj", "kelp_broken/kelp_rest.obj"])
def test_frames_of_the_demo_agree_with_tinyobjloader(file: str, demo: Path) -> None:
    agrees_with_tinyobjloader(demo / file)


def agrees_with_tinyobjloader(path: Path) -> None:
    reader, shape = with_tinyobjloader(path)
    attributes, frame = reader.GetAttrib(), read_frame(path.read_bytes())
    # It doesn't round decimals correctly to the last bit. Exact values are compared with Python's own parser in other
    # tests.
    assert frame.positions.ravel() == pytest.approx(np.array(attributes.vertices), rel=1e-14, abs=0)
    assert len(frame.uvs) == len(attributes.texcoords) // 2
    assert len(frame.normals) == len(attributes.normals) // 3
    # In this release, the numpy_... accessors repeat the first entry, but the plain lists are correct.
    theirs = [(index.vertex_index, index.texcoord_index, index.normal_index) for index in shape.mesh.indices]
    assert np.column_stack([frame.corners.v, frame.corners.vt, frame.corners.vn]).tolist() == list(map(list, theirs))
    assert frame.corners.sizes.tolist() == list(shape.mesh.num_face_vertices)
    names = [material.name.encode() for material in reader.GetMaterials()]
    if names:
        used = [None if number < 0 else names[number] for number in shape.mesh.material_ids]
        assert materials_of_faces(frame) == used


@pytest.mark.parametrize("name", ["sphere", "wing", "prism of 12 sides"])
def test_indices_agree_with_meshio(name: str, tmp_path: Path) -> None:
    """meshio puts consecutive faces with the same number of corners into one block, so the faces keep their order."""
    mesh = MESHES[name]
    path = tmp_path / "frame.obj"
    # meshio reads UVs only if there are as many UVs as vertices, so only the vertices are compared.
    path.write_bytes(plain(mesh.positions, [[corner[0] for corner in face] for face in mesh.faces]).text())
    theirs, frame = meshio.read(path), read_frame(path.read_bytes())
    assert np.array_equal(theirs.points, frame.positions)
    ours = [face.tolist() for face in np.split(frame.corners.v, frame.corners.offsets[1:-1])]
    assert ours == [face for cells in theirs.cells for face in cells.data.tolist()]


def test_uvs_agree_with_meshio_where_each_vertex_has_one(tmp_path: Path) -> None:
    sheet = MESHES["wing"]
    mesh = mapped(sheet.positions, [[corner[0] for corner in face] for face in sheet.faces], sheet.positions[:, :2])
    path = tmp_path / "frame.obj"
    path.write_bytes(mesh.text())
    assert np.array_equal(meshio.read(path).point_data["obj:vt"], read_frame(path.read_bytes()).uvs)


def triangles(frame: Frame) -> npt.NDArray[np.int32]:
    """Return the triangles of all faces. The polygons are convex and nearly planar, so they are split into fans."""
    faces = np.split(frame.corners.v, frame.corners.offsets[1:-1])
    return np.array([(face[0], face[at], face[at + 1]) for face in faces for at in range(1, len(face) - 1)])


def solid(mesh: Mesh) -> tuple[Frame, trimesh.Trimesh]:
    frame = read_frame(mesh.text(decimals=12))
    return frame, trimesh.Trimesh(frame.positions, triangles(frame), process=False)


def edges(frame: Frame) -> int:
    faces = np.split(frame.corners.v, frame.corners.offsets[1:-1])
    return len({frozenset(side) for face in faces for side in zip(face, np.roll(face, -1), strict=True)})


@pytest.mark.parametrize(
    ("mesh", "expected"),
    [(sphere(7, 12), 2), (sphere(20, 31), 2), (prism(12), 2), (prism(32), 2), (torus(9, 5), 0), (torus(24, 17), 0)],
)
def test_eulers_formula_holds_on_what_was_read(mesh: Mesh, expected: int) -> None:
    frame, closed = solid(mesh)
    assert closed.is_watertight
    assert closed.volume > 0
    assert len(frame.positions) - edges(frame) + frame.faces == expected


def test_a_prism_of_many_sides_has_its_exact_volume() -> None:
    """The base is an n-gon with circumradius 1, so its area is (n / 2) sin(2 pi / n). The height of the prism is 1."""
    for sides in (12, 32):
        assert solid(prism(sides))[1].volume == pytest.approx(sides / 2 * np.sin(2 * np.pi / sides), abs=1e-9)


SIZES = (12, 24, 48)


@pytest.mark.parametrize(
    ("areas", "exact"),
    [
        ([solid(sphere(size, 2 * size, 1.5))[1].area for size in SIZES], 4 * np.pi * 1.5**2),
        ([solid(torus(2 * size, size, 2.0, 0.7))[1].area for size in SIZES], 4 * np.pi**2 * 2.0 * 0.7),
    ],
    ids=["sphere", "torus"],
)
def test_areas_come_near_the_exact_ones_with_the_square_of_the_edge(areas: list[float], exact: float) -> None:
    """The area of inscribed facets converges with second order: halving the edges divides the error by four. With n
    facets from pole to pole of the sphere, or around the tube of the torus, the relative error is below (pi / n)^2."""
    errors = 1 - np.array(areas) / exact
    assert (errors > 0).all()
    assert (errors < (np.pi / np.array(SIZES)) ** 2).all()
    assert errors[:-1] / errors[1:] == pytest.approx(4.0, rel=0.05)
