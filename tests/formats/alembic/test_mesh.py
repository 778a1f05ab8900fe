"""Tests of a single mesh. The source is stated beside each check."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from inspector.formats.alembic.mesh import MeshReader, NoSample, turned
from inspector.formats.alembic.scene import ArchiveScene
from inspector.formats.alembic.times import TimeSampling
from inspector.formats.alembic.writer import ArchiveWriter
from tests.helpers.alembic import (
    CAGE,
    CUBE,
    CUBE_FACES,
    EXAMPLE,
    SQUARE,
    add_face_set,
    add_mesh,
    archive_at,
    put,
    scene_at,
    volume,
)

FIRST, SECOND, THIRD = 1 / 24, 2 / 24, 3 / 24
TWO_SQUARES = [(0, 0, 0), (1, 0, 0), (1, 2, 0), (0, 2, 0), (2, 0, 0), (2, 2, 0)]
TWO_FACES = [(0, 1, 2, 3), (1, 4, 5, 2)]


def reader_of(tmp_path: Path, fill: Any) -> MeshReader:
    return scene_at(tmp_path / "kelp.abc", fill).meshes[0].reader


def test_the_worked_example(tmp_path: Path) -> None:
    # The values are those in the description of the example. The reference library reads the same values.
    reader = ArchiveScene(archive_at(tmp_path / "q.abc", EXAMPLE)).meshes[0].reader
    first, second = reader.sample(FIRST), reader.sample(SECOND)
    assert first.points.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
    assert second.points.tolist() == [[0, 0, 0.5], [1, 0, 0.5], [1, 1, 0.5], [0, 1, 0.5]]
    assert first.sizes.tolist() == [4]
    assert first.v.tolist() == [0, 1, 2, 3]
    assert first.vt is not None
    assert first.uvs[first.vt].tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]
    assert reader.uv_set(None).scope == "point"  # type: ignore[union-attr]
    assert reader.topology == "deforming"
    assert reader.faces == 1


def test_what_stays_the_same_is_the_same_array(tmp_path: Path) -> None:
    reader = ArchiveScene(archive_at(tmp_path / "q.abc", EXAMPLE)).meshes[0].reader
    first, second = reader.sample(FIRST), reader.sample(SECOND)
    for name in ("sizes", "v", "uvs", "vt", "material_of"):
        assert getattr(first, name) is getattr(second, name)
    assert first.points is not second.points


def test_closed_meshes_have_a_positive_volume(tmp_path: Path) -> None:
    # Divergence theorem. The format stores faces clockwise (35 of 35 closed meshes from exporters).
    reader = reader_of(tmp_path, lambda writer: add_mesh(writer.top, points=[CUBE], faces=CUBE_FACES))
    mesh = reader.sample(FIRST)
    faces = np.split(mesh.v, np.cumsum(mesh.sizes)[:-1])
    assert volume(mesh.points, [face.tolist() for face in faces]) == pytest.approx(1)
    assert [face[0] for face in faces] == [face[0] for face in CUBE_FACES], "each face keeps its first corner"


def test_turning_is_its_own_inverse() -> None:
    sizes = np.array([3, 0, 4, 1, 2, 5])
    order = turned(sizes)
    assert order.tolist() == [0, 2, 1, 3, 6, 5, 4, 7, 8, 9, 10, 14, 13, 12, 11]
    assert order[order].tolist() == list(range(15))


@pytest.mark.parametrize("indexed", [False, True])
@pytest.mark.parametrize(
    ("scope", "elements"),
    [
        # Values of the elements in stored order, and of the corners of both faces in OBJ's order; calculated by hand.
        ("fvr", [0, 3, 2, 1, 4, 7, 6, 5]),
        ("vtx", [0, 1, 2, 3, 1, 4, 5, 2]),
        ("var", [0, 1, 2, 3, 1, 4, 5, 2]),
        ("uni", [0, 0, 0, 0, 1, 1, 1, 1]),
        ("con", [0] * 8),
    ],
)
def test_values_by_every_scope(tmp_path: Path, scope: str, elements: list[int], indexed: bool) -> None:
    values = np.array([(number / 8, 1 - number / 16) for number in range(max(elements) + 1)], np.float32)

    def fill(writer: ArchiveWriter) -> None:
        geometry = add_mesh(writer.top, points=[TWO_SQUARES], faces=TWO_FACES).geometry
        if indexed:
            inside = geometry.compound("uv", {"geoScope": scope})
            put(inside.array(".vals", "f4", 2), [values[::-1]])
            put(inside.array(".indices", "u4"), [np.arange(len(values))[::-1]])
        else:
            put(geometry.array("uv", "f4", 2, {"geoScope": scope}), [values])
        put(geometry.array("N", "f4", 3, {"geoScope": scope}), [np.repeat(values[:, :1], 3, axis=1)])

    mesh = reader_of(tmp_path, fill).sample(FIRST)
    assert mesh.vt is not None
    assert mesh.vn is not None
    assert np.array_equal(mesh.uvs[mesh.vt], values[elements])
    assert np.array_equal(mesh.normals[mesh.vn][:, 0], values[elements, 0])


@pytest.mark.parametrize(("count", "elements"), [(8, [0, 3, 2, 1, 4, 7, 6, 5]), (6, [0, 1, 2, 3, 1, 4, 5, 2])])
@pytest.mark.parametrize("scope", [None, "con", "uni"])
def test_the_length_decides_where_the_scope_does_not_fit(
    tmp_path: Path, count: int, elements: list[int], scope: str | None
) -> None:
    values = np.array([(number, 0) for number in range(count)], np.float32)

    def fill(writer: ArchiveWriter) -> None:
        geometry = add_mesh(writer.top, points=[TWO_SQUARES], faces=TWO_FACES).geometry
        put(geometry.array("uv", "f4", 2, {} if scope is None else {"geoScope": scope}), [values])

    mesh = reader_of(tmp_path, fill).sample(FIRST)
    assert mesh.vt is not None
    assert mesh.uvs[mesh.vt][:, 0].tolist() == elements


def test_empty_indices_mean_one_value_each(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        inside = add_mesh(writer.top).geometry.compound("uv", {"geoScope": "vtx"})
        put(inside.array(".vals", "f4", 2), [np.array(SQUARE)[:, :2]])
        put(inside.array(".indices", "u4"), [np.zeros(0)])

    mesh = reader_of(tmp_path, fill).sample(FIRST)
    assert mesh.vt is not None
    assert mesh.uvs[mesh.vt].tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]


def test_uv_sets_by_name(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        geometry = add_mesh(writer.top).geometry
        put(geometry.array("uv", "f4", 2, {"geoScope": "vtx", "sourceName": "map1"}), [np.zeros((4, 2))])
        more = geometry.compound(".arbGeomParams")
        vector = {"geoScope": "vtx", "interpretation": "vector"}
        for name, metadata in (
            ("b'wet_UV'", vector),
            ("map1", vector),  # the main set again, under its own name
            ("pref", vector | {"notUV": "1"}),
            ("point", vector | {"interpretation": "point"}),
            ("whole", vector | {"geoScope": "con"}),
        ):
            put(more.array(name, "f4", 2, metadata), [np.ones((4, 2))])

    reader = reader_of(tmp_path, fill)
    assert [one.name for one in reader.uv_sets] == ["map1", "wet_UV"]
    assert reader.sample(FIRST).uvs.max() == 0
    assert reader.sample(FIRST, "wet_UV").uvs.min() == 1
    assert reader.sample(FIRST, "dry").vt is None


def test_faces_that_change(tmp_path: Path) -> None:
    square, triangle = np.array([0, 3, 2, 1]), np.array([0, 2, 1])

    def fill(writer: ArchiveWriter) -> None:
        geometry = writer.top.child("kelp", {"schema": "AbcGeom_PolyMesh_v1"}).properties.compound(".geom")
        put(geometry.array("P", "f4", 3, None, 1), [np.array(SQUARE), np.array(SQUARE)[:3], np.array(SQUARE)])
        put(geometry.array(".faceCounts", "i4", 1, None, 1), [np.array([4]), np.array([3]), np.array([4])])
        put(
            geometry.array(".faceIndices", "i4", 1, None, 1),
            [square, triangle, square],
        )

    reader = reader_of(tmp_path, fill)
    assert reader.topology == "changing"
    assert [reader.sample(time).sizes.tolist() for time in (FIRST, SECOND, THIRD)] == [[4], [3], [4]]
    with pytest.raises(NoSample, match="no sample at this time"):
        reader.sample((FIRST + SECOND) / 2)
    with pytest.raises(NoSample, match="can't be interpolated"):
        reader.sample((FIRST + SECOND) / 2, blend=True)


def test_points_between_samples_are_blended_only_when_asked(tmp_path: Path) -> None:
    moved = np.add(SQUARE, (0, 0, 4))
    reader = reader_of(tmp_path, lambda writer: add_mesh(writer.top, points=[SQUARE, moved]))
    time = FIRST + 0.25 * (SECOND - FIRST)
    with pytest.raises(NoSample):
        reader.sample(time)
    blended = reader.sample(time, blend=True).points
    np.testing.assert_allclose(blended[:, 2], 1, rtol=1e-6)
    assert blended.dtype == np.float32


def test_each_property_is_taken_by_its_own_time(tmp_path: Path) -> None:
    # There are points in every frame, and UVs only in frames 1 and 3.
    def fill(writer: ArchiveWriter) -> None:
        geometry = add_mesh(writer.top, points=[np.add(SQUARE, number) for number in range(4)]).geometry
        uvs = [np.zeros((4, 2)), np.ones((4, 2))]
        put(geometry.array("uv", "f4", 2, {"geoScope": "vtx"}, 2), uvs)

    samplings = [TimeSampling(1 / 24, (1 / 24,), 0), TimeSampling(2 / 24, (1 / 24,), 0)]
    reader = scene_at(tmp_path / "kelp.abc", fill, samplings).meshes[0].reader
    found = [reader.sample(number / 24) for number in (1, 2, 3, 4)]
    assert [mesh.points[0, 0] for mesh in found] == [0, 1, 2, 3]
    assert [mesh.uvs[0, 0] for mesh in found] == [0, 0, 1, 1]


def test_face_sets_are_materials(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        mesh = add_mesh(writer.top, points=[TWO_SQUARES], faces=TWO_FACES)
        put(mesh.node.properties.scalar(".material.assign", "text"), ["/looks/skin"])
        add_face_set(mesh.node, "wet", [1], [])
        add_face_set(mesh.node, "also", [1], [1])

    reader = reader_of(tmp_path, fill)
    assert reader.materials == ("skin", "wet", "also")
    assert reader.sample(FIRST).material_of.tolist() == [0, 1], "the first face set that has the face"
    assert reader.sample(SECOND).material_of.tolist() == [0, 2]


def test_cages_have_no_normals(tmp_path: Path) -> None:
    reader = reader_of(tmp_path, lambda writer: add_mesh(writer.top, metadata=CAGE))
    assert reader.cage
    assert reader.sample(FIRST).vn is None


@pytest.mark.parametrize("kind", ["f2", "f4", "f8"])
def test_points_of_every_width(tmp_path: Path, kind: str) -> None:
    def fill(writer: ArchiveWriter) -> None:
        geometry = writer.top.child("kelp", {"schema": "AbcGeom_PolyMesh_v1"}).properties.compound(".geom")
        put(geometry.array("P", kind, 3, {"interpretation": "vector"}), [np.array(SQUARE) / 3])
        put(geometry.array(".faceCounts", "i4"), [np.array([4])])
        put(geometry.array(".faceIndices", "i4"), [np.array([0, 3, 2, 1])])

    points = reader_of(tmp_path, fill).sample(0.0).points
    assert np.array_equal(points, (np.array(SQUARE) / 3).astype(kind))
    assert points.dtype == (np.float64 if kind == "f8" else np.float32)


def test_empty_meshes_and_points_without_faces(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        add_mesh(writer.top, "empty", points=[np.zeros((0, 3))], faces=[])
        add_mesh(writer.top, "loose", faces=[])

    empty, loose = (mesh.reader.sample(FIRST) for mesh in scene_at(tmp_path / "kelp.abc", fill).meshes)
    assert (len(empty.points), len(empty.v), len(empty.sizes)) == (0, 0, 0)
    assert (len(loose.points), len(loose.sizes)) == (4, 0)


@pytest.mark.parametrize(
    ("box", "sound"),
    [
        ([0, 0, 0, 1, 1, 1], True),
        ([1.797e308] * 3 + [-1.797e308] * 3, False),
        ([-np.inf] * 3 + [np.inf] * 3, False),
        ([np.nan] * 6, False),
        ([1, 0, 0, 0, 1, 1], False),
    ],
)
def test_boxes_are_hints(tmp_path: Path, box: list[float], sound: bool) -> None:
    def fill(writer: ArchiveWriter) -> None:
        geometry = writer.top.child("kelp", {"schema": "AbcGeom_PolyMesh_v1"}).properties.compound(".geom")
        put(geometry.array("P", "f4", 3), [np.array(SQUARE)])
        put(geometry.array(".faceCounts", "i4"), [np.array([4])])
        put(geometry.array(".faceIndices", "i4"), [np.array([0, 3, 2, 1])])
        put(geometry.scalar(".selfBnds", "f8", 6), [np.array(box)])

    assert (reader_of(tmp_path, fill).bounds(0.0) is not None) == sound
