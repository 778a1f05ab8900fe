"""Tests of how well a texture fits a surface whose parts require different textures."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.checks.base.material_fit import FIT_SAMPLES, MaterialFit, material_fits
from inspector.formats.wavefront.reader import read_frame
from inspector.surface.text_direction import Reading
from tests.helpers.meshes import Mesh
from tests.helpers.shapes import sheet_mesh, wall


def parts(fine: int) -> Mesh:
    """Return a large face, on which the texture is upright, and many small faces, on which it is rotated to the left by
    a quarter turn."""
    large = sheet_mesh(wall(2, 1), 1, 1)
    small = sheet_mesh(wall(1, 1), fine, fine)
    uvs = np.stack([small.uvs[:, 1], 1.0 - small.uvs[:, 0]], axis=-1)
    shift = len(large.positions)
    faces = tuple(tuple((v + shift, vt + shift, vn) for v, vt, vn in face) for face in small.faces)
    return Mesh(
        np.concatenate([large.positions, small.positions + np.array([3, 0, 0])]),
        (*large.faces, *faces),
        np.concatenate([large.uvs, uvs]),
    )


@pytest.mark.parametrize("fine", [20, 90])
def test_a_large_face_counts_by_its_area(fine: int) -> None:
    """By hand: two thirds of the area require the aspect ratio 2, and one third requires 1. Written as complex numbers
    and weighted by area, the directions of the texture add up to 2 + i. This sum has the angle atan(1/2) and the length
    sqrt(5), so the spread is 1 - sqrt(5) / 3."""
    assert (fine**2 > FIT_SAMPLES) is (fine == 90)
    (fit,) = material_fits(read_frame(parts(fine).text())).values()
    assert fit.aspects == pytest.approx((1.0, 2.0, 2.0), abs=1e-3)
    assert abs(fit.reading.turned) == pytest.approx(np.degrees(np.arctan(0.5)), abs=0.1)
    assert fit.reading.spread == pytest.approx(1 - np.sqrt(5) / 3, abs=1e-3)
    assert fit.reading.mirrored == 0.0


@pytest.mark.parametrize(("high", "even"), [(2.9, True), (3.1, False)])
def test_how_much_the_aspects_of_a_surface_may_differ(high: float, even: bool) -> None:
    assert MaterialFit((1.0, 2.0, high), Reading(0.0, 0.0, 0.0, False)).is_even is even
