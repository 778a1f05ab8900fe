"""Tests of the time that worst-case faces take in pictures and in measurements of UVs."""

from __future__ import annotations

import time

import numpy as np
import pytest

from inspector.formats.frame import Frame
from inspector.picture.camera import frame_points
from inspector.picture.drawing import Style, draw_with_raster
from inspector.picture.shape import shape_of
from inspector.picture.uv_map import UvMap, Window, uv_layers
from inspector.surface.coverage import affordable
from inspector.surface.triangles import triangulate
from inspector.surface.uv_use import USE_CELLS, uv_use
from tests.helpers.picture_meshes import frame_of

SIDE = 400


def one_face(corners: int, scattered: bool) -> Frame:
    """Return a frame with one face. Its corners are on a wavy ring or, if `scattered`, at random points."""
    around = np.arange(corners) * 2 * np.pi / corners
    rim = (1 + 0.2 * np.sin(7 * around)) * np.array([np.cos(around), np.sin(around)])
    flat = np.random.default_rng(10).uniform(-1, 1, (corners, 2)) if scattered else rim.T
    positions = np.column_stack([flat, np.zeros(corners)])
    return frame_of(positions, [list(range(corners))], 0.5 + 0.4 * flat)


def seconds(frame: Frame) -> float:
    """Return the process time of the triangulation, the picture and the UV map."""
    start = time.process_time()
    shape = shape_of(frame, triangulate(frame.corners, frame.positions))
    camera = frame_points(frame.positions, np.array([0.0, 0.0, -1.0]), aspect=1.0)
    style = Style(wires=True, marked_faces=np.array([0]))
    _, raster = draw_with_raster(camera, frame.positions, shape, style, SIDE, SIDE)
    assert raster.covered.mean() > 0.2
    assert uv_use(shape.corner_uvs) is not None
    sides = np.stack([frame.uvs, np.roll(frame.uvs, -1, axis=0)], axis=1)
    uv_layers(UvMap(shape.corner_uvs, shape.face, 0 * shape.face, sides, sides), Window(), SIDE, SIDE)
    return time.process_time() - start


def test_a_face_costs_by_its_corners() -> None:
    cost = {corners: seconds(one_face(corners, scattered=False)) for corners in (10_000, 50_000, 200_000)}
    assert cost[50_000] < 8 * cost[10_000], cost
    assert cost[200_000] < 6.5 * cost[50_000], cost
    assert cost[200_000] < 200_000 * 20e-6, cost


def test_a_face_with_corners_anywhere_stays_below_the_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a bound, 5,000 triangles would cover 80 million pixels, and as many cells of the texture."""
    monkeypatch.setattr("inspector.picture.fragments.FRAGMENTS", 1 << 20)
    monkeypatch.setattr("inspector.surface.coverage.CELLS_AT_MOST", 1 << 20)
    assert seconds(one_face(5000, scattered=True)) < 3.0


def test_a_coarser_grid_is_taken_only_where_it_must_be(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bounding box of each triangle is the whole texture, so 20 triangles need 20 x 512 x 512 = 5.2 million
    comparisons. A limit of 400,000 allows 128 cells per side."""
    uv = np.tile(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]), (20, 1, 1))
    square = (0.0, 0.0, 1.0, 1.0)
    assert affordable(uv, square, USE_CELLS) == USE_CELLS
    whole = uv_use(uv)
    monkeypatch.setattr("inspector.surface.coverage.CELLS_AT_MOST", 400_000)
    assert affordable(uv, square, USE_CELLS) == 128
    coarse = uv_use(uv)
    assert whole is not None
    assert coarse is not None
    assert coarse.used == pytest.approx(0.5, abs=1 / 128)
    assert whole.used == pytest.approx(0.5, abs=1 / 512)
