"""Tests of the texture that a sequence needs.

A flat sheet needs a texture of the sheet's own aspect ratio (common practice, no source). For the globe, see
test_metric.py.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Cancelled, MeshqcError
from inspector.lettering.texel_density import density_for_camera, density_to_fill, motion_box
from inspector.lettering.texture_fit import RegionFit, TextureFit, fit_texture
from inspector.lettering.viewpoint import View
from inspector.picture.camera import Camera
from tests.helpers.meshes import Mesh, plain, torus
from tests.helpers.shapes import Floats, remapped, series_of, sheet_mesh, wall

RIGHT = np.array([1.0, 0.0, 0.0])
SHEET = sheet_mesh(wall(16, 9), 4, 5)  # quarters and fifths, which six decimals represent exactly
GLOBE = sheet_mesh(
    lambda u, v: (
        np.sin(np.pi * v) * np.sin(2 * np.pi * u),
        -np.cos(np.pi * v),
        np.sin(np.pi * v) * np.cos(2 * np.pi * u),
    ),
    36,
    144,
)


def fit_of(folder: Path, *meshes: Mesh) -> TextureFit:
    return fit_texture(series_of(folder, dict(enumerate(meshes, 1))))


def one(folder: Path, mesh: Mesh) -> RegionFit:
    fit = fit_of(folder, mesh, mesh)
    (material,), (region,) = fit.materials, fit.regions
    assert material.wanted_aspect == region.wanted_aspect
    return region


def test_a_sheet_of_16_by_9_wants_16_by_9(tmp_path: Path) -> None:
    fit = one(tmp_path, SHEET)
    assert fit.wanted_aspect == pytest.approx(1.7778, abs=5e-5)
    assert fit.wanted_aspect == pytest.approx(16 / 9, abs=1e-6)
    assert fit.reading.words == "upright"
    assert fit.area == pytest.approx(144)
    assert fit.lengths == pytest.approx(12)
    assert fit.use is not None
    assert fit.use.used == pytest.approx(1)


def test_turned_by_90_degrees_it_wants_9_by_16(tmp_path: Path) -> None:
    fit = one(tmp_path, remapped(SHEET, lambda u, v: (v, 1 - u)))
    assert fit.wanted_aspect == pytest.approx(0.5625, abs=1e-6)
    assert fit.reading.is_turned
    assert fit.reading.words == "rotated 90 degrees counter-clockwise"


def test_a_mirrored_sheet_is_found(tmp_path: Path) -> None:
    fit = one(tmp_path, remapped(SHEET, lambda u, v: (1 - u, v)))
    assert fit.reading.words == "mirrored"
    assert fit.wanted_aspect == pytest.approx(16 / 9, abs=1e-6)


def test_pixels_for_a_density(tmp_path: Path) -> None:
    fit = one(tmp_path, SHEET)
    assert fit.pixels(120) == (1920, 1080)
    assert fit.density(1920, 1080) == pytest.approx(120)


def test_a_globe_wants_the_aspect_of_its_middle_latitude(tmp_path: Path) -> None:
    """At latitude b, a globe needs the aspect ratio |Ss| / |St| = 2 cos b (see surface/metric.py). Half of the globe's
    area is at latitudes below 30 degrees (Archimedes), so the median is 2 cos 30 degrees, the square root of 3.

    Each row of triangles is 1.25 degrees high, so the latitude is wrong by at most 0.625 degrees (0.0109 radians). At
    72 degrees, the relative error of the aspect ratio is therefore at most tan(72 degrees) * 0.0109 = 3.4 %.
    """
    fit = one(tmp_path, GLOBE)
    assert fit.wanted_aspect == pytest.approx(np.sqrt(3), rel=0.01)
    shares = [2 * np.cos(np.arcsin(share)) for share in (0.95, 0.5, 0.05)]
    assert fit.aspects[0] == pytest.approx(shares, rel=0.034)
    # the square root of |Ss| |St| is pi R times the square root of 2 cos b
    lengths = [np.pi * np.sqrt(share) for share in shares]
    assert fit.lengths[0] == pytest.approx(lengths, rel=0.034)
    # the coarsest parts first, where a unit of the texture is longest on the surface
    assert fit.density(2000, 1000)[0] == pytest.approx(np.sqrt(2e6) / np.array(lengths[::-1]), rel=0.034)


def test_density_follows_growth(tmp_path: Path) -> None:
    fit = fit_of(tmp_path, SHEET, SHEET.edit(positions=SHEET.positions * 2))
    (material,) = fit.materials
    assert material.density(1920, 1080)[:, 1] == pytest.approx([120, 60])
    assert material.pixels(120) == (3840, 2160)  # determined by the frame in which the sheet is largest
    assert material.wanted_aspect == pytest.approx(16 / 9)


def test_frames_built_otherwise_are_left_out_and_named(tmp_path: Path) -> None:
    fit = fit_of(tmp_path, SHEET, torus(4, 4), SHEET)
    assert fit.frames == (Fraction(1), Fraction(3))
    assert fit.left_out == (Fraction(2),)


def test_islands_have_regions_of_their_own(tmp_path: Path) -> None:
    other = sheet_mesh(wall(3, 3), 1, 1)
    count = len(SHEET.positions)
    faces = tuple(tuple((v + count, vt + count, n) for v, vt, n in face) for face in other.faces)
    both = Mesh(
        np.concatenate([SHEET.positions, np.add(other.positions, [0, 0, 5])]),
        SHEET.faces + faces,
        np.concatenate([SHEET.uvs * 0.5, other.uvs * 0.25 + 0.6]),
    )
    fit = fit_of(tmp_path, both)
    assert [region.faces for region in fit.regions] == [20, 1]
    assert [region.wanted_aspect for region in fit.regions] == pytest.approx([16 / 9, 1])
    assert fit.materials[0].use is not None
    assert fit.materials[0].use.used == pytest.approx(0.25 + 0.0625, abs=0.01)


def test_a_frame_collapsed_to_a_point_leaves_numbers(tmp_path: Path) -> None:
    flat = SHEET.edit(positions=SHEET.positions * 0)
    (material,) = fit_of(tmp_path, SHEET, flat, SHEET).materials
    assert material.wanted_aspect == pytest.approx(16 / 9)
    assert np.isnan(material.lengths[1]).all()
    assert material.pixels(120) == (1920, 1080)
    assert material.reading.words == "upright"


def test_without_uvs_nothing_can_be_fitted(tmp_path: Path) -> None:
    with pytest.raises(MeshqcError, match="the faces have no UVs"):
        fit_of(tmp_path, plain(SHEET.positions, [[0, 1, 6, 5]]))


def test_it_can_be_stopped_and_says_how_far_it_is(tmp_path: Path) -> None:
    series = series_of(tmp_path, dict.fromkeys(range(1, 5), SHEET))
    heard: list[tuple[int, int]] = []
    fit_texture(series, progress=lambda done, total: heard.append((done, total)))
    assert heard == [(1, 4), (2, 4), (3, 4), (4, 4)]
    with pytest.raises(Cancelled):
        fit_texture(series, cancelled=lambda: True)


def test_a_file_that_changed_meanwhile_is_named(tmp_path: Path) -> None:
    series = series_of(tmp_path, {1: SHEET, 2: SHEET})
    series.facts[1].file.path.write_bytes(torus(4, 4).text())
    with pytest.raises(MeshqcError, match=r"manta\.0002\.obj: changed"):
        fit_texture(series)
    series.facts[1].file.path.write_bytes(SHEET.edit(faces=SHEET.faces[1:]).text())
    with pytest.raises(MeshqcError, match=r"manta\.0002\.obj: changed"):
        fit_texture(series)
    series.facts[1].file.path.unlink()
    with pytest.raises(MeshqcError, match=r"manta\.0002\.obj: can't be read any more"):
        fit_texture(series)


def test_density_for_a_picture(tmp_path: Path) -> None:
    """At distance d, a pinhole camera shows a height of 2 d tan(a / 2), where a is its field of view (projective
    geometry)."""
    moved = SHEET.edit(positions=np.add(SHEET.positions, [0, 0, 2]))
    series = series_of(tmp_path, {1: SHEET, 2: moved})
    assert density_to_fill(series, 1920, RIGHT) == pytest.approx(120)
    camera = Camera(np.array([8.0, 4.5, 12]), np.array([8.0, 4.5, 0]), np.array([0.0, 1, 0]), field_of_view=90)
    assert density_for_camera(series, camera, 1080) == pytest.approx(1080 / 20)  # at the nearest frame, 10 away
    assert motion_box(series).tolist() == [[0, 0, 0], [16, 9, 2]]


def test_where_it_is_narrowest_it_comes_largest(tmp_path: Path) -> None:
    narrow = SHEET.edit(positions=SHEET.positions * [0.5, 1, 1])
    assert density_to_fill(series_of(tmp_path, {1: SHEET, 2: narrow, 3: SHEET}), 1920, RIGHT) == pytest.approx(240)


def test_the_front_camera_sees_every_frame_whole(tmp_path: Path) -> None:
    def moved(way: list[float]) -> Mesh:
        return SHEET.edit(positions=SHEET.positions + way)

    series = series_of(tmp_path, {1: SHEET, 2: moved([3, 1, -4]), 3: moved([-5, 0, 6])})
    camera = View().shot(series).camera
    assert camera.axes[2] == pytest.approx([0, 0, -1])
    points: Floats = np.concatenate([SHEET.positions + way for way in ([0, 0, 0], [3, 1, -4], [-5, 0, 6])])
    pixels = camera.project(points, 1920, 1080)
    assert pixels[:, 0].min() >= 0
    assert pixels[:, 0].max() <= 1920
    assert pixels[:, 1].min() >= 0
    assert pixels[:, 1].max() <= 1080
