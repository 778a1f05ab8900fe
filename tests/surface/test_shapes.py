"""Tests of the shapes of faces. Areas and volumes are compared with those of trimesh, and areas of concave polygons
with the shoelace formula."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from inspector.formats.wavefront.reader import read_frame
from inspector.surface import shapes
from inspector.surface.shapes import NON_PLANAR, Shapes, face_shapes
from tests.helpers.meshes import Floats, Mesh, plain, prism, sphere, torus
from tests.helpers.shapes import read

RNG = np.random.default_rng(2)
ROTATION = trimesh.transformations.rotation_matrix(1.1, [1, 2, 3])[:3, :3]


def shapes_of(points: Floats, faces: list[list[int]] | None = None) -> Shapes:
    return face_shapes(read(plain(np.asarray(points, float), faces or [list(range(len(points)))])), True)


def shoelace(ring: Floats) -> float:
    """Return the area of a polygon. Source: Meister 1769, cited from memory."""
    x, y = ring.T
    return float(abs(x @ np.roll(y, -1) - np.roll(x, -1) @ y) / 2)


def star(points: int) -> Floats:
    angles = np.pi * np.arange(2 * points) / points
    radii = np.where(np.arange(2 * points) % 2, 0.4, 1.0)
    return np.stack([radii * np.cos(angles), radii * np.sin(angles)], axis=1)


@pytest.mark.parametrize("mesh", [torus(8, 6), sphere(6, 7), prism(3), prism(5), prism(12)])
@pytest.mark.parametrize("far", [0.0, 1e4])
def test_area_and_volume_are_those_of_trimesh(mesh: Mesh, far: float) -> None:
    frame = read(mesh.edit(positions=mesh.positions @ ROTATION.T + far))
    rings = [face.tolist() for face in np.split(frame.corners.v, frame.corners.offsets[1:-1])]
    fans = [[ring[0], ring[at], ring[at + 1]] for ring in rings for at in range(1, len(ring) - 1)]
    other = trimesh.Trimesh(frame.positions - far, fans, process=False)
    found = face_shapes(frame, True)
    assert found.volume == pytest.approx(other.volume, rel=1e-6)
    assert found.area == pytest.approx(other.area, rel=1e-6)


@pytest.mark.parametrize("points", [3, 4, 5, 9])
def test_area_of_a_star_by_the_shoelace_formula(points: int) -> None:
    ring = star(points)
    found = shapes_of(np.c_[ring, np.zeros(len(ring))] @ ROTATION.T)
    assert found.area == pytest.approx(shoelace(ring), rel=1e-5)
    assert found.concave.tolist() == [0]
    assert not len(found.zero_area)
    assert not len(found.non_planar)


def test_area_of_random_quads_by_the_shoelace_formula() -> None:
    """The shoelace formula holds only for quads that don't cross themselves."""
    for _ in range(50):
        ring = RNG.uniform(-1, 1, (4, 2))
        if simple(ring):
            assert shapes_of(np.c_[ring, np.zeros(4)]).area == pytest.approx(shoelace(ring), abs=1e-5)


def simple(ring: Floats) -> bool:
    """Return whether a quad doesn't cross itself. Two sides cross if the line through each of them separates the ends
    of the other."""

    def side(a: Floats, b: Floats, c: Floats) -> float:
        return float(np.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])))

    a, b, c, d = ring
    first = side(a, b, c) != side(a, b, d) and side(c, d, a) != side(c, d, b)
    second = side(b, c, d) != side(b, c, a) and side(d, a, b) != side(d, a, c)
    return not first and not second


@pytest.mark.parametrize(("depth", "bends"), [(0.5, True), (0.1, True), (0.02, False), (0.0, False), (-0.5, False)])
@pytest.mark.parametrize("first", range(4))
def test_a_quad_bends_in_by_more_than_the_share(depth: float, bends: bool, first: int) -> None:
    """One corner of a unit square is moved across the diagonal or, with a negative `depth`, towards it. The triangle
    between this corner and the diagonal has the area depth / 2, and the quad has the area (1 - depth) / 2."""
    inner = 0.5 - depth / 2
    ring = np.roll([[0.0, 0, 0], [1, 0, 0], [inner, inner, 0], [0, 1, 0]], first, axis=0)
    assert bool(len(shapes_of(ring @ ROTATION.T).concave)) is bends


@pytest.mark.parametrize("degrees", [20.0, 50.0, 57.0, 63.0, 80.0])
@pytest.mark.parametrize("corners", [4, 5])
def test_a_saddle_is_warped_from_sixty_degrees_on(degrees: float, corners: int) -> None:
    """Each half of a unit square is tilted by half of `degrees` about the diagonal, which is 0.707 away from the lifted
    corner."""
    lift = np.sqrt(0.5) * np.tan(np.radians(degrees / 2))
    ring = [[0.0, 0, 0], [1, 0, lift], [1, 1, 0], [0, 1, lift]]
    if corners == 5:
        ring.insert(1, [0.5, 0, lift / 2])
    assert bool(len(shapes_of(np.array(ring) @ ROTATION.T).non_planar)) is (degrees > 60.0)


def test_the_limit_of_a_warp_is_sixty_degrees() -> None:
    assert 2 * np.degrees(np.arctan(NON_PLANAR.value / np.sqrt(0.5))) == pytest.approx(60, abs=2)


def test_what_is_flat() -> None:
    points = np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 1, 0], [2, 0, 0], [3, 0, 0]])
    faces = [[0, 1, 2], [0, 1, 3], [2, 4, 3], [0, 1, 2, 5], [0, 1, 1, 2], [0, 0, 1]]
    # A face that uses a vertex twice is reported as such.
    assert shapes_of(points @ ROTATION.T, faces).zero_area.tolist() == [0, 2, 3]


def test_edge_length_is_the_mean_of_first_sides() -> None:
    points = np.array([[0.0, 0, 0], [3, 0, 0], [3, 4, 0], [0, 4, 0]])
    assert shapes_of(points, [[0, 1, 2, 3], [1, 2, 3]]).edge_length == pytest.approx((3 + 4) / 2)


@pytest.mark.parametrize(("degrees", "against"), [(0, False), (110, False), (130, True), (180, True)])
@pytest.mark.parametrize("length", [1.0, 0.01, 50.0])
def test_normals_against(degrees: int, against: bool, length: float) -> None:
    x, z = length * np.sin(np.radians(degrees)), length * np.cos(np.radians(degrees))
    text = f"v 0 0 0\nv 1 0 0\nv 0 1 0\nvn {x:.6f} 0 {z:.6f}\nf 1//1 2//1 3//1\nf 1 2 3\n"
    assert face_shapes(read_frame(text.encode()), False).against.tolist() == ([0] if against else [])


def test_chunks_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    frame = read(torus(40, 30))
    whole = face_shapes(frame, True)
    monkeypatch.setattr(shapes, "CHUNK", 7)
    parts = face_shapes(frame, True)
    assert (parts.area, parts.volume, parts.edge_length) == pytest.approx(
        (whole.area, whole.volume, whole.edge_length), rel=1e-12
    )
    assert parts.concave.tolist() == whole.concave.tolist()


def test_bad_numbers_and_lacking_vertices_are_passed_over() -> None:
    frame = read_frame(b"v nan 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nf 1 2 3\nf 2 3 4\nf 2 3 9\n")
    found = face_shapes(frame, False)
    assert not len(found.zero_area)


@pytest.mark.parametrize(("high", "zero_area"), [(6.0e-7, True), (6.5e-7, False)])
def test_from_which_area_a_face_has_one(high: float, zero_area: bool) -> None:
    """A face counts as a zero-area face if twice its area is less than a millionth of the mean square of the two sides
    at a corner. Here, twice the area is `high`, and the mean is (1 + 0.25) / 2 = 0.625."""
    assert bool(len(shapes_of(np.array([[0, 0, 0], [1, 0, 0], [0.5, high, 0]])).zero_area)) is zero_area


@pytest.mark.parametrize(("inwards", "concave"), [(0.04, False), (0.056, True)])
def test_how_far_a_corner_must_bend_inwards(inwards: float, concave: bool) -> None:
    """The triangle at the corner that bends inwards has the area `inwards`, and the face has the area 1 - `inwards`.
    The face is concave if the triangle has more than a twentieth of the face's area, so the limit is 0.048."""
    assert bool(len(shapes_of(np.array([[0, 0, 0], [1, inwards, 0], [2, 0, 0], [1, 1, 0]])).concave)) is concave
