"""Tests of faces that are cut into triangles. Areas of polygons are calculated by the shoelace formula (Meister 1769;
see Braden 1986, "The Surveyor's Area Formula")."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from inspector.arrays import Floats
from inspector.formats.frame import ABSENT, Corners
from inspector.sequence.run.scan import load_frame
from inspector.surface.normals import area_vectors
from inspector.surface.triangles import EAR_CORNERS, Triangulator, triangulate
from tests.helpers.meshes import plain, torus
from tests.helpers.shapes import read


def shoelace(ring: Floats) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def area_of(points: Floats, faces: list[list[int]]) -> float:
    frame = read(plain(points, faces))
    cut = triangulate(frame.corners, frame.positions)
    assert len(cut) == sum(len(face) - 2 for face in faces)
    return float(np.linalg.norm(area_vectors(frame.positions, cut), axis=1).sum())


def tilted(ring: Floats) -> Floats:
    turn = np.linalg.qr(np.array([[2.0, 1, 0], [-1, 1, 3], [1, 0, 1]]))[0]
    return np.column_stack([ring, np.zeros(len(ring))]) @ turn.T + [1, -2, 3]


@pytest.mark.parametrize("start", range(4))
def test_a_quad_that_bends_in_keeps_its_area(start: int) -> None:
    """The sharpest corner of the quad is neither the concave corner nor the opposite corner."""
    dart = np.roll(np.array([[0.0, 0], [8, -0.5], [1, 0], [2, 9]]), start, axis=0)
    assert area_of(tilted(dart), [[0, 1, 2, 3]]) == pytest.approx(shoelace(dart))


@given(st.lists(st.floats(0.2, 3.0), min_size=5, max_size=24), st.booleans())
def test_any_star_shaped_polygon_keeps_its_area(radii: list[float], turned_over: bool) -> None:
    angles = 2 * np.pi * np.arange(len(radii)) / len(radii)
    ring = np.array(radii)[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    face = list(range(len(radii)))
    assert area_of(tilted(ring), [face[::-1] if turned_over else face]) == pytest.approx(shoelace(ring), rel=1e-9)


def test_a_spiral_that_no_fan_fits_keeps_its_area() -> None:
    steps = np.linspace(0, 3 * np.pi, 40)
    arm = (1 + steps)[:, None] * np.stack([np.cos(steps), np.sin(steps)], axis=1)
    ring = np.concatenate([arm, 0.7 * arm[::-1]])
    assert area_of(tilted(ring), [list(range(80))]) == pytest.approx(abs(shoelace(ring)), rel=1e-9)


def test_convex_faces_are_fans_from_the_first_corner_in_the_order_of_faces() -> None:
    angles = 2 * np.pi * np.arange(5) / 5
    ring = np.column_stack([np.cos(angles), np.sin(angles), 0 * angles])
    frame = read(plain(ring, [[0, 1, 2, 3, 4], [0, 1, 2], [0, 1, 2, 3]]))
    cut = triangulate(frame.corners, frame.positions)
    assert cut.face.tolist() == [0, 0, 0, 1, 2, 2]
    assert cut.vertices.tolist() == [[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 1, 2], [0, 1, 2], [0, 2, 3]]
    assert cut.corners[3:].tolist() == [[5, 6, 7], [8, 9, 10], [8, 10, 11]]


def test_corners_without_a_vertex_are_passed_over() -> None:
    positions = np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]])
    v = np.array([0, 1, ABSENT, 2, 3, 0, ABSENT, 1], np.int32)
    cut = triangulate(Corners(np.array([0, 5, 8]), v, v, v), positions)
    assert cut.face.tolist() == [0, 0]
    assert cut.corners.tolist() == [[0, 1, 3], [0, 3, 4]]


def test_bad_numbers_and_faces_without_area_still_give_triangles() -> None:
    frame = read(plain(np.zeros((4, 3)), [[0, 1, 2, 3]]))
    assert len(triangulate(frame.corners, frame.positions)) == 2
    assert len(triangulate(frame.corners, frame.positions * np.nan)) == 2


@pytest.mark.parametrize("count", [EAR_CORNERS + 1, 1000, 4096])
def test_a_face_of_more_corners_than_are_clipped_is_halved(count: int) -> None:
    """The polygon is regular, with n corners and a circumradius of 1, so the areas of its triangles add up to (n / 2)
    sin(2 pi / n). With repeated halving, each corner is in at most about 2 log2(n) triangles."""
    around = np.arange(count) * 2 * np.pi / count
    ring = np.column_stack([np.cos(around), np.sin(around), 0 * around])
    frame = read(plain(ring, [list(range(count))]))
    cut = triangulate(frame.corners, frame.positions)
    a, b, c = ring[cut.vertices].transpose(1, 0, 2)
    areas = np.cross(b - a, c - a)[:, 2] / 2
    assert len(cut) == count - 2
    assert (areas > 0).all()
    assert areas.sum() == pytest.approx(count / 2 * np.sin(2 * np.pi / count))
    assert np.bincount(cut.vertices.reshape(-1)).max() <= 2 * np.log2(count) + 2


def test_the_demo_has_the_area_that_trimesh_finds(demo: Path) -> None:
    frame = load_frame(demo / "manta/manta.0001.obj")
    cut = triangulate(frame.corners, frame.positions)
    mesh = trimesh.Trimesh(frame.positions, cut.vertices, process=False)
    assert np.linalg.norm(area_vectors(frame.positions, cut), axis=1) == pytest.approx(mesh.area_faces)


def test_equal_faces_are_cut_once() -> None:
    triangulator = Triangulator()
    first = triangulator.of(read(torus(6, 4)))
    assert triangulator.of(read(torus(6, 4))) is first
    assert triangulator.of(read(torus(4, 6))) is not first
