"""Tests of the rasteriser. References: a brute-force rasteriser in exact fractions, and plane geometry."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.picture.face_counts import coverage, twice_areas
from inspector.picture.fragments import pixels_of
from inspector.picture.raster import NONE, Floats, rasterise
from tests.helpers.picture_meshes import brute_force


def random_triangles(seed: int, number: int, *, step: float) -> Floats:
    """Return random triangles whose corners are rounded to multiples of a step.

    If the step is coarse, many corners are on pixel centres, and many coincide.
    """
    random = np.random.default_rng(seed)
    corners = random.uniform((-6.0, -6.0, 1.0), (22.0, 18.0, 9.0), (number, 3, 3))
    corners[..., :2] = np.round(corners[..., :2] / step) * step
    return corners


def times_covered(corners: Floats, width: int, height: int) -> Floats:
    counts = np.zeros(width * height)
    for pixel, _ in pixels_of(corners, width, height):
        counts += np.bincount(pixel, minlength=len(counts))
    return counts.reshape(height, width)


@pytest.mark.parametrize("step", [2.0**-12, 0.5, 2.0])
@pytest.mark.parametrize("perspective", [True, False])
def test_random_triangles_as_brute_force(step: float, perspective: bool) -> None:
    for seed in range(4):
        corners = random_triangles(seed, 12, step=step)
        owner, nearest, count = brute_force(corners, 16, 12, perspective=perspective)
        assert (owner >= 0).any()
        raster = rasterise(corners, 16, 12, perspective=perspective)
        assert np.array_equal(times_covered(corners, 16, 12), count)
        assert np.array_equal(raster.triangle, owner)
        depth = 1.0 / nearest[owner >= 0] if perspective else -nearest[owner >= 0]
        assert raster.depth[owner >= 0] == pytest.approx(depth, rel=1e-9)
        assert np.isinf(raster.depth[owner < 0]).all()


def test_too_much_to_draw_is_drawn_in_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each of 64 triangles covers 9,600 pixels, half of a picture of 160 x 120. Only a tenth of this work is allowed,
    so the picture consists of blocks that are ceil(sqrt(10)) = 4 pixels wide. The blocks equal the pixels of a picture
    of 40 x 30."""
    corners = np.tile(np.array([[0.0, 0.0, 5.0], [160.0, 0.0, 5.0], [0.0, 120.0, 5.0]]), (64, 1, 1))
    corners[:, :, 2] += np.arange(64)[::-1, None]
    monkeypatch.setattr("inspector.picture.fragments.FRAGMENTS", 64 * 9600 // 10)
    raster = rasterise(corners, 160, 120)
    assert raster.block == 4
    assert raster.triangle.shape == raster.depth.shape == (120, 160)
    small = rasterise(corners / [4, 4, 1], 40, 30)
    assert small.block == 1
    assert np.array_equal(raster.triangle, small.triangle.repeat(4, axis=0).repeat(4, axis=1))
    assert set(np.unique(raster.triangle)) == {NONE, 63}, "the nearest"
    corners[:2, 0, 0] = np.inf, np.nan
    corners[2, :, 1] = -1e300, 1e300, 1e300
    assert rasterise(corners, 160, 120).block == 4, "what lies nowhere takes no work"
    corners[:3] = corners[3]
    assert (coverage(corners[..., :2], np.arange(64), 160, 120)[:50, :50] == 64).all()


def fan(centre: tuple[float, float], rim: Floats) -> Floats:
    middle = np.broadcast_to(np.array([*centre, 1.0]), rim.shape)
    return np.stack([middle, rim, np.roll(rim, -1, axis=0)], axis=1)


@pytest.mark.parametrize("centre", [(20.5, 14.5), (20.0, 14.0), (17.123, 15.9)])
def test_a_fan_covers_each_pixel_of_its_polygon_once(centre: tuple[float, float]) -> None:
    """Many triangles meet at one point. In one case, the point is a pixel centre. The polygon is a rectangle with
    integer coordinates, so its pixels are known without drawing."""
    side = np.arange(0.0, 1.0, 1 / 7)
    corners = np.array([[2.0, 3.0], [38.0, 3.0], [38.0, 27.0], [2.0, 27.0]])
    ways = np.roll(corners, -1, axis=0) - corners
    rim = (corners[:, None] + side[:, None] * ways[:, None]).reshape(-1, 2)
    triangles = fan(centre, np.concatenate([rim, np.ones((len(rim), 1))], axis=1))
    expected = np.zeros((30, 40))
    expected[3:27, 2:38] = 1
    assert np.array_equal(times_covered(triangles, 40, 30), expected)


def test_a_torn_grid_covers_the_picture_once() -> None:
    random = np.random.default_rng(3)
    x, y = np.meshgrid(np.linspace(-5.0, 69.0, 30), np.linspace(-5.0, 53.0, 25))
    points = np.stack([x, y, np.ones_like(x)], axis=-1)
    points[1:-1, 1:-1, :2] += random.uniform(-0.6, 0.6, (23, 28, 2))
    a, b, c, d = points[:-1, :-1], points[:-1, 1:], points[1:, 1:], points[1:, :-1]
    triangles = np.concatenate([np.stack(t, axis=-2).reshape(-1, 3, 3) for t in ((a, b, c), (a, c, d))])
    assert (twice_areas(triangles[..., :2]) > 0.0).all()
    assert np.array_equal(times_covered(triangles, 64, 48), np.ones((48, 64)))
    assert rasterise(triangles, 64, 48).covered.all()


def test_crossing_triangles_change_place_where_they_cross() -> None:
    """In parallel projection, the depths are 10 + x/10 and 14 - x/10, which are equal at x = 20."""
    big = np.array([[-100.0, -100.0], [300.0, -100.0], [-100.0, 300.0]])
    far = np.concatenate([big, 10.0 + big[:, :1] / 10.0], axis=1)
    near = np.concatenate([big, 14.0 - big[:, :1] / 10.0], axis=1)
    triangle = rasterise(np.stack([far, near]), 40, 8, perspective=False).triangle
    assert (triangle[:, :20] == 0).all()
    assert (triangle[:, 20:] == 1).all()


def test_depth_and_weights_with_perspective() -> None:
    """An edge runs from depth 1 to depth 3. The point that is at its middle in the picture has the harmonic mean of the
    depths, 1.5, and is at a quarter of the edge's length in space (Heckbert 1989, section 3)."""
    corners = np.array([[[0.0, 0.0, 1.0], [9.0, 0.0, 3.0], [0.0, 9.0, 1.0]]])
    raster = rasterise(corners, 9, 9)
    assert raster.depth[0, 4] == pytest.approx(1.0 / (0.5 / 1.0 + 0.5 / 3.0))
    assert raster.weights[0, 4, 1] == pytest.approx(0.25)
    flat = rasterise(corners, 9, 9, perspective=False)
    assert flat.depth[0, 4] == pytest.approx(2.0)
    assert flat.weights[0, 4, 1] == pytest.approx(0.5)


def test_of_two_equal_triangles_the_first_is_seen_whatever_its_corners_order() -> None:
    one = random_triangles(5, 1, step=2.0**-12)
    raster = rasterise(np.concatenate([one[:, [1, 2, 0]], one, one[:, ::-1]]), 16, 12)
    assert set(raster.triangle.ravel().tolist()) == {NONE, 0}


def test_triangles_without_area_or_with_bad_numbers_are_left_out() -> None:
    line = [[1.0, 1.0, 1.0], [5.0, 5.0, 1.0], [9.0, 9.0, 1.0]]
    bad = [[np.nan, 1.0, 1.0], [5.0, 5.0, 1.0], [9.0, 0.0, 1.0]]
    endless = [[np.inf, 1.0, 1.0], [5.0, 5.0, 1.0], [9.0, 0.0, 1.0]]
    assert not rasterise(np.array([line, bad, endless]), 10, 10).covered.any()
    assert not rasterise(np.zeros((0, 3, 3)), 10, 10).covered.any()


def test_triangles_far_beyond_the_picture_are_cut_off() -> None:
    huge = np.array([[[-1e7, -1e7, 2.0], [1e7, -1e7, 2.0], [0.0, 1e7, 2.0]]])
    raster = rasterise(huge, 50, 40)
    assert raster.covered.all()
    assert raster.depth == pytest.approx(np.full((40, 50), 2.0))
