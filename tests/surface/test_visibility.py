"""Tests of visibility from a camera. References: a test of every triangle, and trimesh's ray casts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import trimesh

from inspector.arrays import Floats, Indices
from inspector.picture.camera import Camera
from inspector.sequence.run.scan import load_frame
from inspector.surface.normals import area_vectors
from inspector.surface.triangles import triangulate
from inspector.surface.visibility import Eye, unhidden


def eye_at(position: list[float], target: list[float], *, parallel: bool = False) -> Eye:
    camera = Camera(np.array(position, float), np.array(target, float), np.array([0.0, 1.0, 0.0]))
    return Eye(camera.position, camera.axes, parallel)


def seen_by(points: Floats, own: Indices, corners: Floats, eye: Eye) -> list[bool]:
    """Return whether the eye sees each point. `own` contains the index of each point's triangle in `corners`, (t, 3,
    3)."""
    positions = np.reshape(corners, (-1, 3))
    return unhidden(points, own, positions, np.arange(len(positions)).reshape(-1, 3), eye).tolist()


def met_by(points: Floats, rays: Floats, triangle: Floats) -> npt.NDArray[np.bool_]:
    """Return whether each ray meets a triangle between its start and its end."""
    normal = np.cross(triangle[1] - triangle[0], triangle[2] - triangle[0])
    with np.errstate(divide="ignore", invalid="ignore"):
        way = ((triangle[0] - points) @ normal) / (rays @ normal)
    place = points + np.nan_to_num(way)[:, None] * rays
    sides = [np.cross(triangle[(i + 1) % 3] - triangle[i], place - triangle[i]) @ normal for i in range(3)]
    return (way > 1e-6) & (way < 1) & (np.min(sides, axis=0) >= 0)


@pytest.mark.parametrize("parallel", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_it_is_what_brute_force_sees(seed: int, parallel: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspector.surface.visibility.PAIRS_TRIED", 40)  # splits the pairs into many parts
    random = np.random.default_rng(seed)
    corners = random.normal(size=(60, 1, 3)) + 0.5 * random.normal(size=(60, 3, 3))
    own = random.integers(0, 60, 200)
    points = np.einsum("sc,scd->sd", random.dirichlet([1, 1, 1], 200), corners[own])
    eye = eye_at([0.3, 0.2, 1.5], [0, 0, 0], parallel=parallel)  # some triangles are partly or wholly behind it
    ahead = (points - eye.position) @ eye.axes[2] > 0
    hidden = np.zeros(200, bool)
    for number, triangle in enumerate(corners):
        hidden |= met_by(points, eye.from_points(points), triangle) & (own != number)
    seen = np.array(seen_by(points, own, corners, eye))
    assert 20 < seen.sum() < ahead.sum()
    assert seen.tolist() == (ahead & ~hidden).tolist()


@pytest.mark.parametrize(("number", "position"), [(1, [0, 0.3, 4]), (9, [2.5, 0.4, 0.8]), (17, [0.2, -3, -2])])
def test_on_the_demo_it_is_what_ray_casts_of_trimesh_say(demo: Path, number: int, position: list[float]) -> None:
    frame = load_frame(demo / f"manta/manta.{number:04}.obj")
    cut = triangulate(frame.corners, frame.positions)
    corners = frame.positions[cut.vertices]
    eye = eye_at(position, [0, 0, 0])
    own = np.arange(0, len(cut), 3)
    points = corners[own].mean(axis=1)
    facing = (area_vectors(frame.positions, cut)[own] * (eye.position - points)).sum(axis=1) > 0
    seen = unhidden(points, own, frame.positions, cut.vertices, eye) & facing
    mesh = trimesh.Trimesh(frame.positions, cut.vertices, process=False)
    directions = points - eye.position
    first = mesh.ray.intersects_first(np.tile(eye.position, (len(points), 1)), directions)
    assert 0.02 < seen.mean() < 0.98
    # trimesh casts rays from the eye: if a point is visible, the first triangle on the ray is the point's own
    assert seen.tolist() == (facing & (first == own)).tolist()


def test_a_surface_seen_edge_on_does_not_hide_itself() -> None:
    """The line of sight is in the plane of the triangle, so rounding could put their intersection anywhere."""
    random = np.random.default_rng(3)
    for triangle in random.normal(size=(200, 3, 3)):
        points = random.dirichlet([1, 1, 1], 1) @ triangle
        away = points[0] - 7 * (triangle[1] - triangle[0]) - 3 * (triangle[2] - triangle[0])
        assert seen_by(points, np.array([0]), triangle[None], eye_at(away.tolist(), points[0].tolist())) == [True]


def test_a_sheet_lying_on_the_point_does_not_hide_it_and_one_before_it_does() -> None:
    sheet = np.array([[[-1.0, -1, 0], [1, -1, 0], [0, 1, 0]]])
    points, own = np.array([[0.0, 0, 0]]), np.array([0])
    eye = eye_at([0, 0, 5], [0, 0, 0])
    assert seen_by(points, own, np.concatenate([sheet, sheet]), eye) == [True]
    assert seen_by(points, own, np.concatenate([sheet, np.add(sheet, [0, 0, 1])]), eye) == [False]
    assert seen_by(points, own, np.concatenate([sheet, np.add(sheet, [0, 0, 6])]), eye) == [True]
    assert seen_by(np.add(points, [0, 0, 9]), own, sheet, eye) == [False]
    assert seen_by(points, own, np.concatenate([sheet, sheet * np.nan]), eye) == [True]
    assert seen_by(points[:0], own[:0], sheet, eye) == []
