"""Tests of textures: UVs under perspective, sampling, the origin and repetition."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.picture.camera import Camera
from inspector.picture.texture import sampled, seen_uvs
from inspector.picture.view import view

SIDE = 200
AHEAD = Camera(np.zeros(3), np.array([0.0, 0.0, -1.0]), np.array([0.0, 1.0, 0.0]), field_of_view=90.0, near=0.1)


def test_a_leaning_planes_texture_coordinates_under_perspective() -> None:
    """The plane passes through p and is spanned by the vectors a (u) and b (v). A ray r meets the plane where
    r s = p + a u + b v. These are three linear equations (projective geometry; Heckbert 1989, section 2).

    Linear interpolation in the picture would be wrong by more than a tenth.
    """
    p, a, b = np.array([-1.0, -1.0, -1.5]), np.array([2.0, 0.3, -2.0]), np.array([-0.2, 2.2, -1.0])
    positions, uvs = np.array([p, p + a, p + a + b, p + b]), np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    triangles = np.array([[0, 1, 2], [0, 2, 3]])
    raster = view(AHEAD, positions, triangles, SIDE, SIDE)
    seen = seen_uvs(raster, uvs[triangles])
    worst = 0.0
    for row, column in ((100, 100), (60, 80), (120, 70), (80, 110)):
        ray = np.array([(column + 0.5) / 100.0 - 1.0, 1.0 - (row + 0.5) / 100.0, -1.0])
        u, v, _ = np.linalg.solve(np.stack([a, b, -ray], axis=1), -p)
        assert seen[row, column] == pytest.approx([u, v], abs=2e-5)
        linear = raster.weights[row, column] * AHEAD.to_camera(positions)[triangles[raster.triangle[row, column]], 2]
        off = linear / linear.sum() @ uvs[triangles[raster.triangle[row, column]]] - [u, v]
        worst = max(worst, float(np.abs(off).max()))
    assert worst > 0.1
    assert np.isnan(seen[0, 0]).all()


TEXTURE = np.arange(2 * 4 * 3).reshape(2, 4, 3).astype(np.uint8) * 10


def test_the_origin_is_the_lower_left_corner() -> None:
    uvs = np.array([[0.01, 0.01], [0.99, 0.01], [0.01, 0.99], [0.99, 0.99]])
    assert sampled(TEXTURE, uvs, smooth=False).tolist() == TEXTURE[[1, 1, 0, 0], [0, 3, 0, 3]].tolist()


@pytest.mark.parametrize("smooth", [True, False])
def test_pixel_centres_give_the_pixels_and_the_picture_repeats(smooth: bool) -> None:
    u, v = np.meshgrid((np.arange(4) + 0.5) / 4, 1.0 - (np.arange(2) + 0.5) / 2)
    uvs = np.stack([u, v], axis=-1)
    for shift in ([0, 0], [3, 0], [-2, 5]):
        assert np.array_equal(sampled(TEXTURE, uvs + shift, smooth=smooth), TEXTURE)


def test_between_centres_colours_blend_also_over_the_edge() -> None:
    """One colour is the mean of the last and the first pixel of the upper row. The other colour is the mean of four
    pixels."""
    edge = sampled(TEXTURE, np.array([[1.0, 0.75], [0.25, 0.5]]))
    assert edge[0].tolist() == ((TEXTURE[0, 3].astype(int) + TEXTURE[0, 0]) // 2).tolist()
    assert edge[1].tolist() == (TEXTURE[:2, :2].astype(int).sum(axis=(0, 1)) // 4).tolist()
