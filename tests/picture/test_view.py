"""Tests of a mesh that is seen through a camera. The expected values come from formulas of projective geometry."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inspector.picture.camera import Camera, frame_box
from inspector.picture.view import view
from tests.helpers.picture_meshes import sphere

SIDE = 400
BOX = np.array([[-2.0] * 3, [2.0] * 3])
AHEAD = Camera(np.zeros(3), np.array([0.0, 0.0, -1.0]), np.array([0.0, 1.0, 0.0]), field_of_view=90.0, near=1.0)


@pytest.fixture(scope="module")
def ball() -> tuple[np.ndarray, np.ndarray]:
    return sphere(2.0, 120, 80)


def test_a_spheres_silhouette_in_parallel_projection(ball: tuple[np.ndarray, np.ndarray]) -> None:
    """The silhouette of the sphere has the area pi r^2. The mesh is inscribed, so the relative error of its radius is
    at most 1 - cos(pi / 80), and that of its area is at most twice this."""
    camera = frame_box(BOX, np.array([0.2, -0.5, -1.0]), parallel=True)
    assert camera.parallel_height is not None
    area = view(camera, *ball, SIDE, SIDE).covered.sum() * (camera.parallel_height / SIDE) ** 2
    assert area == pytest.approx(np.pi * 2.0**2, rel=2.5e-3)


def test_a_spheres_silhouette_in_perspective(ball: tuple[np.ndarray, np.ndarray]) -> None:
    """The silhouette of a sphere of radius r at distance d is a circle with the half angle asin(r / d). In the middle
    of the picture, its radius is f r / sqrt(d^2 - r^2) pixels, with the focal length f in pixels (geometry of the
    tangent cone)."""
    camera = replace(AHEAD, position=np.array([0.0, 0.0, 5.0]))
    raster = view(camera, *ball, SIDE, SIDE)
    radius = SIDE / 2.0 * 2.0 / np.sqrt(5.0**2 - 2.0**2)
    assert raster.covered.sum() == pytest.approx(np.pi * radius**2, rel=2.5e-3)
    assert raster.depth.min() == pytest.approx(3.0, abs=2e-3)


def test_the_near_plane_opens_the_sphere(ball: tuple[np.ndarray, np.ndarray]) -> None:
    """The near plane cuts the sphere at a distance of 1 in front of its centre, so the inside is seen through a circle
    of radius sqrt(r^2 - 1). At each pixel, the weights define a point of the visible triangle. This point is on the
    pixel's ray, at the pixel's depth."""
    positions, triangles = ball
    camera = replace(AHEAD, position=np.array([0.0, 0.0, 5.0]), near=4.0)
    raster = view(camera, positions, triangles, SIDE, SIDE)
    covered = raster.covered
    assert raster.depth[covered].min() >= 4.0
    assert raster.depth[SIDE // 2, SIDE // 2] == pytest.approx(7.0, abs=2e-3)
    assert covered.sum() == pytest.approx(np.pi * (SIDE / 2.0 * 2.0 / np.sqrt(21.0)) ** 2, rel=2.5e-3)
    met = (raster.weights[..., None] * positions[triangles[raster.triangle]]).sum(axis=2)[covered]
    row, column = np.nonzero(covered)
    depth = raster.depth[covered]
    x = (column + 0.5 - SIDE / 2.0) / (SIDE / 2.0) * depth
    y = (SIDE / 2.0 - row - 0.5) / (SIDE / 2.0) * depth
    assert np.abs(met - np.stack([x, y, 5.0 - depth], axis=1)).max() < 2e-4


@pytest.mark.parametrize("behind", [1, 2])
def test_a_floor_that_begins_behind_the_camera(behind: int) -> None:
    """By similar triangles, a floor that is 1 unit below the eye has depth f / y at y pixels below the middle of the
    picture, where f is the focal length in pixels. At the lower edge of the picture, the floor has depth 1, which is
    the depth of the near plane. The floor therefore covers every pixel below the middle, except at the floor's far
    end."""
    floor = np.array([[-90.0, -1.0, 9.0], [90.0, -1.0, 9.0], [0.0, -1.0, -900.0]])
    if behind == 1:
        floor = np.array([[-900.0, -1.0, -400.0], [900.0, -1.0, -400.0], [0.0, -1.0, 200.0]])
    raster = view(AHEAD, floor, np.array([[0, 1, 2]]), SIDE, SIDE)
    below = np.arange(SIDE // 2 + 2, SIDE - 2)
    assert raster.depth[below, SIDE // 2] == pytest.approx(SIDE / 2.0 / (below + 0.5 - SIDE / 2.0), rel=1e-3)
    assert not raster.covered[: SIDE // 2].any()


def test_two_triangles_cut_by_the_near_plane_share_their_side() -> None:
    floor = np.array([[-90.0, -1.0, 9.0], [90.0, -1.0, 7.0], [80.0, -1.0, -900.0], [-70.0, -1.0, -950.0]])
    parts = view(AHEAD, floor, np.array([[0, 1, 2], [0, 2, 3]]), SIDE, SIDE)
    assert parts.covered[SIDE // 2 + 1 : SIDE - 1, SIDE // 2 - 5 : SIDE // 2 + 5].all()
    assert set(np.unique(parts.triangle)) == {-1, 0, 1}


def test_a_mesh_behind_the_camera_is_not_seen(ball: tuple[np.ndarray, np.ndarray]) -> None:
    positions, triangles = ball
    assert not view(AHEAD, positions + np.array([0.0, 0.0, 10.0]), triangles, SIDE, SIDE).covered.any()
