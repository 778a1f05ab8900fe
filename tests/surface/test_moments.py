"""Tests of the centre and the second moments of a surface. The expected values come from closed-form expressions."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from inspector.surface.moments import ellipsoid, moments
from tests.helpers.meshes import Floats, Mesh, plain, sphere, torus
from tests.helpers.shapes import read

ROTATION = trimesh.transformations.rotation_matrix(1.1, [1, 2, 3])[:3, :3]


def centre_and_spread(mesh: Mesh) -> tuple[Floats, Floats]:
    """Return the centre of a surface, (3,), and the second moments about the centre, divided by the area, (3, 3)."""
    measured = moments(read(mesh))
    assert measured is not None
    ends = ellipsoid(measured)
    root = (ends[:3] - ends[3:]) / 2.0
    return ends.mean(axis=0), root @ root


def test_a_rectangle() -> None:
    """The second moments of a rectangle with sides a and b, divided by its area, are a^2 / 12 and b^2 / 12. Source: any
    textbook of mechanics (second moments of area)."""
    corners = np.array([[0.0, 0, 0], [6, 0, 0], [6, 2, 0], [0, 2, 0]])
    for faces in ([[0, 1, 2, 3]], [[0, 1, 2], [0, 2, 3]]):
        centre, spread = centre_and_spread(plain(corners, faces))
        assert centre == pytest.approx([3, 1, 0])
        assert spread == pytest.approx(np.diag([3.0, 1 / 3, 0.0]), abs=1e-9)


def test_a_triangle() -> None:
    """Over a triangle, the mean of a product of two coordinates is its mean over the midpoints of the three sides.
    Source: Strang and Fix 1973, "An Analysis of the Finite Element Method", table 4.1, cited from memory."""
    corners = np.array([[0.3, 0.1, 2.0], [4.0, 1.0, 1.0], [1.0, 3.0, -2.0]])
    middles = (corners + np.roll(corners, 1, axis=0)) / 2.0
    expected = middles.T @ middles / 3.0 - np.outer(corners.mean(axis=0), corners.mean(axis=0))
    centre, spread = centre_and_spread(plain(corners, [[0, 1, 2]]))
    assert centre == pytest.approx(corners.mean(axis=0))
    assert spread == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize("corners", [5, 6, 12])
def test_a_regular_polygon_is_the_triangles_that_make_it(corners: int) -> None:
    angles = 2 * np.pi * np.arange(corners) / corners
    rim = np.stack([np.cos(angles), np.sin(angles), np.zeros(corners)], axis=1)
    fan = plain(np.r_[rim, [[0.0, 0, 0]]], [[at, (at + 1) % corners, corners] for at in range(corners)])
    _, whole = centre_and_spread(plain(rim, [list(range(corners))]))
    _, parts = centre_and_spread(fan)
    assert whole == pytest.approx(parts, abs=1e-5)


def test_a_ball_however_it_is_divided() -> None:
    """Along each axis, the second moment of a sphere, divided by its area, is a third of the squared radius. The
    polyhedra that approximate the sphere are slightly smaller than the sphere."""
    for rings, around in ((24, 36), (30, 50)):
        _, spread = centre_and_spread(sphere(rings, around, 2.0))
        assert spread == pytest.approx(np.eye(3) * 4.0 / 3.0, abs=0.03)


@pytest.mark.parametrize("far", [0.0, 1e4])
def test_it_moves_turns_and_scales_with_the_surface(far: float) -> None:
    mesh = torus(20, 12)
    there = mesh.edit(positions=3.0 * mesh.positions @ ROTATION.T + far)
    (centre, spread), (moved, turned) = centre_and_spread(mesh), centre_and_spread(there)
    assert moved == pytest.approx(3.0 * ROTATION @ centre + far, abs=1e-3)
    assert turned == pytest.approx(9.0 * ROTATION @ spread @ ROTATION.T, abs=1e-3)


def test_without_area_there_is_none() -> None:
    line = plain(np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]]), [[0, 1, 2]])
    assert moments(read(line)) is None
    assert moments(read(plain(np.full((3, 3), 1e200) * np.eye(3), [[0, 1, 2]]))) is None
