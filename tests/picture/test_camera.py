"""Tests of cameras. The expected values follow from the geometry of the pinhole camera."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inspector.picture.camera import MARGIN, Camera, frame_box, frame_points

AHEAD = Camera(np.zeros(3), np.array([0.0, 0.0, -1.0]), np.array([0.0, 1.0, 0.0]), field_of_view=90.0)
BOX = np.array([[-1.0, -2.0, -3.0], [2.0, 1.0, 1.0]])
CORNERS = np.array([[x, y, z] for x in BOX[:, 0] for y in BOX[:, 1] for z in BOX[:, 2]])


def test_a_pinhole_of_90_degrees() -> None:
    """At depth 2, the camera sees a height of 4, because tan 45 degrees = 1. A point that is 1 up and 1 to the right is
    therefore a quarter of the picture's height above and to the right of the middle."""
    assert AHEAD.project(np.array([[1.0, 1.0, -2.0]]), 200, 100)[0] == pytest.approx([125.0, 25.0, 2.0])


def test_a_parallel_projection() -> None:
    camera = replace(AHEAD, parallel_height=4.0)
    assert camera.project(np.array([[1.0, 1.0, -2.0], [1.0, 1.0, -9.0]]), 200, 100)[:, :2] == pytest.approx(
        np.array([[125.0, 25.0]] * 2)
    )


def test_what_lies_before_the_near_plane_has_no_place() -> None:
    pixels = AHEAD.project(np.array([[0.0, 0.0, 5.0], [0.0, 0.0, -5.0]]), 10, 10)
    assert np.isnan(pixels[0, :2]).all()
    assert np.isfinite(pixels[1]).all()


@pytest.mark.parametrize("direction", [(0.0, 0.0, -1.0), (1.0, -0.7, 0.4), (0.0, -1.0, 0.0), (0.0, 1.0, 0.0)])
@pytest.mark.parametrize("aspect", [0.5, 1.0, 16 / 9])
@pytest.mark.parametrize("parallel", [True, False])
def test_a_framed_box_is_seen_whole_and_touches_the_margin(
    direction: tuple[float, float, float], aspect: float, parallel: bool
) -> None:
    height = 900
    width = round(height * aspect)
    camera = frame_box(BOX, np.array(direction), aspect=aspect, parallel=parallel)
    x, y, depth = camera.project(CORNERS, width, height).T
    assert (depth > camera.near).all()
    spare = np.array([x.min(), width - x.max(), y.min(), height - y.max()])
    across, upright = np.ptp(x) / width, np.ptp(y) / height
    assert max(across, upright) == pytest.approx(1.0 / MARGIN, abs=2e-3)
    assert (spare >= -1e-6).all()
    tight = spare[:2] if across > upright else spare[2:]
    assert tight[0] == pytest.approx(tight[1], abs=1e-6)


def test_points_are_framed_closer_than_their_box() -> None:
    points = np.array([[-1.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    box = np.array([points.min(axis=0), points.max(axis=0)])
    away = np.array([-1.0, -1.0, -1.0])
    assert frame_points(points, away).distance < frame_box(box, away).distance


def test_a_point_is_framed_from_one_unit_away() -> None:
    camera = frame_points(np.array([[3.0, 4.0, 5.0]]), np.array([0.0, 0.0, -1.0]))
    assert camera.position == pytest.approx([3.0, 4.0, 6.0])


def test_orbit_keeps_the_distance_and_stops_before_the_pole() -> None:
    camera = frame_box(BOX, np.array([0.0, 0.0, -1.0]))
    assert camera.turned(90.0, 0.0).axes[2] == pytest.approx([-1.0, 0.0, 0.0])
    assert camera.turned(0.0, 30.0).axes[2] == pytest.approx([0.0, -0.5, -np.sqrt(0.75)])
    top = camera.turned(20.0, 500.0)
    assert top.distance == pytest.approx(camera.distance)
    assert top.axes[2][1] == pytest.approx(-np.sin(np.radians(89.0)))


def test_orbit_from_straight_above_goes_on() -> None:
    above = frame_box(BOX, np.array([0.0, -1.0, 0.0]))
    assert np.isfinite(above.turned(10.0, -30.0).position).all()
    assert above.turned(0.0, -30.0).axes[2][1] == pytest.approx(-np.sin(np.radians(59.0)), abs=0.02)


@pytest.mark.parametrize("parallel", [True, False])
def test_pan_and_zoom_in_shares_of_the_picture(parallel: bool) -> None:
    camera = frame_box(BOX, np.array([0.3, -0.2, -1.0]), parallel=parallel)
    target = camera.target[None]
    moved = camera.shifted(0.25, -0.1).project(target, 400, 200)[0]
    assert moved[:2] == pytest.approx([200.0 - 0.25 * 200, 100.0 - 0.1 * 200])
    edge = target + camera.axes[0] * 0.1
    before, after = (c.project(edge, 400, 200)[0, 0] - 200.0 for c in (camera, camera.closer(2.0)))
    assert after == pytest.approx(2.0 * before)


def test_a_longer_lens_shows_the_same_view_larger() -> None:
    """The outermost points, half a unit from (1, 0, 0), are at the picture's edge after zooming. Points on one line of
    sight still coincide."""
    camera = Camera(np.array([0.0, 0, 10]), np.zeros(3), np.array([0.0, 1, 0]))
    points = np.array([[0.5, 0.0, 0], [1.5, 0, 0], [1, 0.25, 0], [1, -0.25, 0]])
    near = camera.zoomed(points, 2.0)
    assert near.position.tolist() == [0, 0, 10]
    pixels = near.project(points, 200, 100)
    assert pixels[:, 0].min() == pytest.approx(0, abs=2)
    assert pixels[:, 0].max() == pytest.approx(200, abs=2)
    behind = near.position + 2.0 * (points[2] - near.position)
    assert np.ptp(near.project(np.stack([points[2], behind]), 200, 100)[:, :2], axis=0) == pytest.approx(
        [0, 0], abs=1e-9
    )
    for none in (np.zeros((0, 3)), np.array([[0.0, 0, 11]])):
        assert camera.zoomed(none, 2.0) is camera
