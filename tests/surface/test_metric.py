"""Tests of derivatives and singular values on surfaces whose metric is known.

First fundamental forms: do Carmo 1976, "Differential Geometry of Curves and Surfaces", section 2-5 (plane, cylinder,
sphere) and exercise 2-5-1 (surfaces of revolution, torus). Singular values: numpy's SVD. Stretch: Sander, Snyder,
Gortler, Hoppe 2001, "Texture Mapping Progressive Meshes", section 3.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspector.arrays import Floats
from inspector.surface.metric import Metric, measure
from tests.helpers.meshes import ABSENT, with_faces
from tests.helpers.shapes import measured, remapped, sheet_mesh, wall

TURN = 2 * np.pi
entry = st.floats(-10, 10).map(lambda x: round(x, 3))


def triangle_middles(mesh_metric: tuple[object, ...], uvs: Floats) -> Floats:
    frame, triangles, _ = mesh_metric
    return uvs[frame.corners.vt[triangles.corners]].mean(axis=1)  # type: ignore[attr-defined]


@given(st.lists(entry, min_size=6, max_size=6))
def test_an_affine_map_is_measured_exactly(entries: list[float]) -> None:
    matrix = np.array(entries).reshape(3, 2)  # its columns are Ss and St
    expected = np.linalg.svd(matrix, compute_uv=False)
    mesh = sheet_mesh(lambda u, v: tuple(matrix @ np.stack([u, v])), 3, 2)  # type: ignore[arg-type,return-value]
    metric = measured(mesh)[2]
    assert np.abs(metric.by_u - matrix[:, :1]).max() <= 1e-6
    assert np.abs(metric.by_v - matrix[:, 1:]).max() <= 1e-6
    larger, smaller = metric.singular_values()
    assert larger == pytest.approx(np.full(12, expected[0]), abs=1e-6)
    assert smaller == pytest.approx(np.full(12, expected[1]), abs=1e-6)


def l2_stretch(metric: Metric) -> float:
    """Return the root mean square of the stretch over all directions and the whole surface. Source: Sander et al. 2001,
    section 3, L2 of a mesh."""
    square, weight = (metric.u_length**2 + metric.v_length**2) / 2.0, np.where(metric.usable, metric.area, 0.0)
    return float(np.sqrt((square * weight).sum() / weight.sum()))


def test_a_sheet_of_16_by_9() -> None:
    metric = measured(sheet_mesh(wall(16, 9), 8, 6))[2]
    assert metric.u_length == pytest.approx(16, abs=1e-6)
    assert metric.v_length == pytest.approx(9, abs=1e-6)
    assert metric.area.sum() == pytest.approx(144)
    assert metric.uv_area.sum() == pytest.approx(1)
    assert metric.scale == pytest.approx(12)
    # L2 of a map with the same stretch everywhere: the square root of (16^2 + 9^2) / 2
    assert l2_stretch(metric) == pytest.approx(np.sqrt((16**2 + 9**2) / 2))
    # on a texture of 16 by 9, the stretch is the same in every direction
    larger, smaller = metric.singular_values(16 / 9)
    assert larger == pytest.approx(9)
    assert smaller == pytest.approx(9)


def test_a_mirrored_map_has_negative_area() -> None:
    mesh = remapped(sheet_mesh(wall(2, 1), 2, 2), lambda u, v: (1 - u, v))
    metric = measured(mesh)[2]
    assert (metric.uv_area < 0).all()
    assert metric.by_u[0] == pytest.approx(-2)


def test_a_prism_inscribed_in_a_cylinder() -> None:
    """Each side of the prism's base is a chord of the cylinder's base circle and is 2 r sin(pi / n) long. A cylinder of
    radius r and height h has E = (2 pi r)^2 and G = h^2."""
    r, h, n = 3.0, 5.0, 12
    metric = measured(sheet_mesh(lambda u, v: (r * np.cos(TURN * u), h * v, -r * np.sin(TURN * u)), n, 2))[2]
    assert metric.u_length == pytest.approx(n * 2 * r * np.sin(np.pi / n), abs=1e-6)
    assert metric.v_length == pytest.approx(h, abs=1e-6)
    fine = measured(sheet_mesh(lambda u, v: (r * np.cos(TURN * u), h * v, -r * np.sin(TURN * u)), 400, 2))[2]
    assert fine.u_length == pytest.approx(TURN * r, rel=2e-5)


def test_a_cone() -> None:
    """A cone with radius r at its base and height h has E = (2 pi r v)^2, F = 0 and G = r^2 + h^2, with v measured from
    the tip."""
    r, h = 2.0, 3.0
    mesh = sheet_mesh(lambda u, v: (r * v * np.cos(TURN * u), h * v, r * v * np.sin(TURN * u)), 300, 20)
    everything = measured(mesh)
    metric, triangles = everything[2], everything[1]
    middle = triangle_middles(everything, mesh.uvs)[:, 1]
    row = (middle * 20 // 1) / 20  # |Ss| is that of the triangle's side along u, at an end of the row
    ends = np.where(np.isclose(middle - row, 1 / 60), row, row + 1 / 20)
    assert len(triangles) == 12000
    good = metric.usable & (metric.area > 0)
    assert (~good).sum() == 300  # at the tip, one side of each quad has no length
    assert metric.u_length[good] == pytest.approx(TURN * r * ends[good], rel=1e-4)
    assert metric.v_length[good] == pytest.approx(np.hypot(r, h), rel=1e-3)


def test_density_on_a_sphere_goes_with_the_cosine_of_latitude() -> None:
    """With longitude along u and latitude b along v, a sphere of radius R has E = (2 pi R cos b)^2 and G = (pi R)^2."""
    radius = 2.0

    def globe(u: Floats, v: Floats) -> tuple[Floats, Floats, Floats]:
        a, b = TURN * u, np.pi * (v - 0.5)
        return radius * np.cos(b) * np.sin(a), radius * np.sin(b), radius * np.cos(b) * np.cos(a)

    mesh = sheet_mesh(globe, 64, 128)
    everything = measured(mesh)
    metric = everything[2]
    latitude = np.pi * (triangle_middles(everything, mesh.uvs)[:, 1] - 0.5)
    away = np.abs(latitude) < np.radians(80)
    # along u, a texture of 4096 pixels has 4096 / |Ss| pixels per scene unit
    density = 4096 / metric.u_length[away] * np.cos(latitude[away])
    # A triangle's side along u is up to 2/3 of a row from the triangle's middle. At 80 degrees, the error is tan(80) *
    # 2/3 * pi / 128 = 9 %.
    assert density == pytest.approx(4096 / (TURN * radius), rel=0.1)
    middle = np.abs(latitude) < np.radians(45)
    assert np.median(density[middle[away]]) == pytest.approx(4096 / (TURN * radius), rel=1e-3)
    assert metric.v_length[away] == pytest.approx(np.pi * radius, rel=1e-3)
    assert metric.area.sum() == pytest.approx(4 * np.pi * radius**2, rel=1e-3)


def torus_metric(n: int) -> Metric:
    def surface(u: Floats, v: Floats) -> tuple[Floats, Floats, Floats]:
        ring = 2.0 + 0.7 * np.cos(TURN * v)
        return ring * np.sin(TURN * u), 0.7 * np.sin(TURN * v), ring * np.cos(TURN * u)

    return measured(sheet_mesh(surface, n, n))[2]


def test_a_torus_is_approached_with_second_order() -> None:
    """A torus has E = (2 pi (R + r cos b))^2, G = (2 pi r)^2, and the area 4 pi^2 R r. The mean of (R + r cos b)^2 over
    the area is R^2 + 3/2 r^2, so the stretch is L2 = sqrt(2 pi^2 (R^2 + 5/2 r^2)).

    The errors of chords and areas of inscribed meshes are proportional to the square of the step (Taylor; do Carmo,
    exercise 1-3-8 for chords).
    """
    large, small = 2.0, 0.7
    area, stretch = 4 * np.pi**2 * large * small, np.sqrt(2 * np.pi**2 * (large**2 + 2.5 * small**2))
    errors = []
    for n in (16, 32, 64):
        metric = torus_metric(n)
        errors.append([abs(metric.area.sum() - area), abs(l2_stretch(metric) - stretch)])
    orders = np.log2(np.array(errors)[:-1] / np.array(errors)[1:])
    assert orders == pytest.approx(2.0, abs=0.1)
    assert errors[-1][1] < 0.01 * stretch


SQUARE = np.array([[0.0, 0], [1, 0], [0, 1]])


@pytest.mark.parametrize(
    ("points", "uv", "usable"),
    [
        ([[0, 0, 0], [1, 0, 0], [2, 0, 0]], SQUARE, True),  # no area on the surface
        ([[0, 0, 0], [1, 0, 0], [0, 1, 0]], SQUARE * 0, False),  # no area in UV space
        ([[0, 0, 0], [1, 0, 0], [0, np.nan, 0]], SQUARE, False),
        ([[0, 0, 0], [1, 0, 0], [0, 1, 0]], SQUARE * np.nan, False),
        ([[0, 0, 0], [1e300, 0, 0], [0, 1e300, 0]], SQUARE, False),  # the area overflows
        ([[0, 0, 0], [1, 0, 0], [0, 1, 0]], SQUARE * 1e-160, False),  # the inverse of the area in UV space overflows
    ],
)
def test_degenerate_triangles_weigh_nothing_and_give_numbers(
    points: list[list[float]], uv: Floats, usable: bool
) -> None:
    metric = measure(np.array(points, float)[:, :, None], uv[:, :, None])
    assert metric.usable.tolist() == [usable]
    assert not metric.area[metric.usable].any()
    values = [metric.by_u, metric.by_v, metric.scale, metric.area, metric.uv_area, *metric.singular_values()]
    assert all(np.isfinite(value).all() for value in values)


def test_faces_without_uvs_weigh_nothing() -> None:
    mesh = with_faces(sheet_mesh(wall(1, 1), 2, 1), lambda corner: (corner[0], ABSENT, ABSENT), of=[1])
    assert measured(mesh)[2].usable.tolist() == [True, True, False, False]
    bare = with_faces(mesh, lambda corner: (corner[0], ABSENT, ABSENT)).edit(uvs=np.empty((0, 2)))
    assert not measured(bare)[2].usable.any()
