"""Tests of an archive that is read frame by frame, in world space."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from inspector.formats.alembic.animation import ArchiveAnimation
from inspector.formats.animation import Take
from inspector.formats.mesh import Mesh
from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.compose import Composer, compose
from tests.helpers.alembic import (
    CUBE,
    CUBE_FACES,
    SQUARE,
    add_face_set,
    add_mesh,
    add_xform,
    archive_bytes,
    put,
    volume,
)


def animation_at(tmp_path: Path, fill: Any) -> ArchiveAnimation:
    path = tmp_path / "kelp.abc"
    path.write_bytes(archive_bytes(fill))
    return ArchiveAnimation(path)


def frame(animation: ArchiveAnimation, number: int, take: Take | None = None) -> Mesh:
    return animation.mesh(Fraction(number), take or Take())


def faces_of(mesh: Mesh) -> list[list[int]]:
    return [one.tolist() for one in np.split(mesh.corners.v, mesh.corners.offsets[1:-1])]


@pytest.mark.parametrize(
    ("operations", "channels", "factor"),
    [([], [], 1), ([0], [2, 2, 2], 8), ([0], [-1, 1, 1], 1), ([0], [-1, -2, -1], 2), ([4, 0], [30, 1, -3, 1], 3)],
)
def test_closed_meshes_stay_closed_outwards(
    tmp_path: Path, operations: list[int], channels: list[float], factor: float
) -> None:
    # Divergence theorem: the volume is positive even if the mesh is mirrored, and is multiplied by the scales.
    def fill(writer: Any) -> None:
        above = add_xform(writer.top, "reef", operations, [channels])
        add_mesh(above, points=[CUBE, np.add(CUBE, 1)], faces=CUBE_FACES)

    animation = animation_at(tmp_path, fill)
    for number in (1, 2):
        mesh = frame(animation, number)
        assert volume(mesh.positions, faces_of(mesh)) == pytest.approx(factor, rel=1e-5)


def test_the_box_holds_the_points_of_every_frame(tmp_path: Path) -> None:
    def fill(writer: Any) -> None:
        reef = add_xform(writer.top, "reef", [1, 6], [[n, 0, 2, 30 * n] for n in range(3)])
        add_mesh(reef, points=[np.add(CUBE, n) for n in range(3)], faces=CUBE_FACES)
        add_mesh(writer.top, "other")

    animation = animation_at(tmp_path, fill)
    for number in (1, 2, 3):
        for take in (Take(), Take(("/other",)), Take(z_up=True)):
            box = animation.box(Fraction(number), take)
            positions = frame(animation, number, take).positions
            assert box is not None
            assert (box[0] <= positions.min(axis=0) + 1e-6).all()
            assert (box[1] >= positions.max(axis=0) - 1e-6).all()
    still = animation.box(Fraction(1), Take(("/other",)))
    assert still is not None
    assert still.tolist() == [[0, 0, 0], [1, 1, 0]]


def test_scale_and_turn(tmp_path: Path) -> None:
    animation = animation_at(
        tmp_path, lambda writer: add_mesh(writer.top, points=[[(1, 2, 3), (4, 5, 6), (7, 8, 10)]], faces=[(0, 1, 2)])
    )
    assert frame(animation, 1, Take(scale=2.0, z_up=True)).positions.tolist() == [
        [2, 6, -4],
        [8, 12, -10],
        [14, 20, -16],
    ]


def test_single_precision_unless_the_object_is_far_out(tmp_path: Path) -> None:
    def fill(writer: Any) -> None:
        add_mesh(add_xform(writer.top, "near", [1], [[10, 0, 0]]), "kelp")
        add_mesh(add_xform(writer.top, "far", [1], [[1e6, 0, 0]]), "kelp", points=[np.array(SQUARE) / 3])

    animation = animation_at(tmp_path, fill)
    assert frame(animation, 1, Take(("/near",))).positions.dtype == np.float32
    far = frame(animation, 1, Take(("/far",))).positions
    assert far.dtype == np.float64
    np.testing.assert_allclose(far[:, 0] - 1e6, np.array(SQUARE)[:, 0] / 3, atol=1e-7)


def test_what_stays_is_not_made_twice(tmp_path: Path) -> None:
    def fill(writer: Any) -> None:
        for name in ("kelp", "jelly"):
            above = add_xform(writer.top, name, [1, 0], [[n, 0, 0, -1, 1, 1] for n in range(3)])
            mesh = add_mesh(above, points=[np.add(CUBE, n) for n in range(3)], faces=CUBE_FACES)
            put(mesh.geometry.array("uv", "f4", 2, {"geoScope": "fvr"}), [np.arange(48).reshape(24, 2) % 5])

    animation = animation_at(tmp_path, fill)
    for take in (Take(), Take(("/kelp",))):
        composer = Composer()
        first, second = frame(animation, 1, take), frame(animation, 2, take)
        assert first.corners is second.corners
        assert first.uvs is second.uvs
        assert first.positions is not second.positions
        assert [composer.text(one) for one in (first, second)] == [compose(first), compose(second)]


def test_normals_turn_with_the_mesh_and_are_one_for_each_point_of_a_smooth_mesh(tmp_path: Path) -> None:
    normals = np.array(CUBE) - 0.5
    corners = np.concatenate([(face[0], *face[:0:-1]) for face in CUBE_FACES])

    def fill(writer: Any) -> None:
        mesh = add_mesh(add_xform(writer.top, "reef", [6], [[90]]), points=[CUBE], faces=CUBE_FACES)
        put(mesh.geometry.array("N", "f4", 3, {"geoScope": "fvr"}), [normals[corners]])

    mesh = frame(animation_at(tmp_path, fill), 1)
    assert len(mesh.normals) == 8
    turned = np.stack([-normals[:, 1], normals[:, 0], normals[:, 2]], axis=1)
    expected = turned / np.linalg.norm(turned, axis=1, keepdims=True)
    np.testing.assert_allclose(mesh.normals[mesh.corners.vn], expected[mesh.corners.v], atol=1e-6)


def test_objects_and_materials_of_faces(tmp_path: Path) -> None:
    def fill(writer: Any) -> None:
        mesh = add_mesh(writer.top, points=[CUBE], faces=CUBE_FACES)
        add_face_set(mesh.node, "wet", [1, 2])

    mesh = frame(animation_at(tmp_path, fill), 1)
    assert [(part.start, part.stop, str(part.object), part.material and str(part.material)) for part in mesh.parts] == [
        (0, 1, "kelp", None),
        (1, 3, "kelp", "wet"),
        (3, 6, "kelp", None),
    ]
    assert [str(one.name) for one in mesh.materials] == ["wet"]


def test_what_is_left_out_is_named(tmp_path: Path) -> None:
    # Geometry parameters besides the main UVs are in `.arbGeomParams`; colours are recognised by their interpretation
    # (the reference library's OC3fGeomParam; from memory).
    def fill(writer: Any) -> None:
        geometry = add_mesh(writer.top).geometry
        put(geometry.array("uv", "f4", 2, {"geoScope": "vtx", "sourceName": "map1"}), [np.zeros((4, 2))])
        more = geometry.compound(".arbGeomParams")
        put(more.array("wet", "f4", 2, {"geoScope": "vtx", "interpretation": "vector"}), [np.ones((4, 2))])
        for name in ("tint", "dirt"):
            put(more.array(name, "f4", 3, {"geoScope": "vtx", "interpretation": "rgb"}), [np.ones((4, 3))])
        writer.top.child("eye", {"schema": "AbcGeom_Camera_v1"})

    notes = {note.what: note.seen for note in animation_at(tmp_path, fill).notes}
    assert notes == {
        "all but one UV set per mesh (sets: map1, wet); the main set, or the set given with --uv-set, is kept": False,
        "all but the first set of vertex colours per mesh (dirt)": True,
        "objects that are not meshes: cameras (1)": False,
    }

    def hairy(writer: Any) -> None:
        add_mesh(writer.top)
        writer.top.child("hair", {"schema": "AbcGeom_Curve_v2"})

    assert [note.seen for note in animation_at(tmp_path, hairy).notes] == [True]


def test_files_that_are_not_there_or_no_files(tmp_path: Path) -> None:
    for path in (tmp_path / "none.abc", tmp_path):
        with pytest.raises(UnreadableFrame):
            ArchiveAnimation(path)
