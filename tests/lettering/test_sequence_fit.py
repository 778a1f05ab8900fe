"""Tests of how the user's settings determine the picture, the density and the lettering area.

The aspect ratio of a flat sheet follows common practice (no source). The sizes in the picture follow from projective
geometry (pinhole camera), as in test_texture_fit.py and test_legibility.py.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Cancelled, MeshqcError
from inspector.lettering.sequence_fit import FitRequest, fit_sequence, read_lettering
from inspector.lettering.texture_fit import NoTexture
from inspector.lettering.viewpoint import View, side_of, up_in_picture, word_of_side
from inspector.picture.image_files import IMAGE_PIXELS
from inspector.surface.lettering_box import Rectangle
from inspector.surface.text_direction import Upright
from tests.helpers.meshes import Mesh, torus
from tests.helpers.sequences import frames, write
from tests.helpers.shapes import scanned, series_of, sheet_mesh, wall
from tests.helpers.uv_sheets import second_sheet

SHEET = sheet_mesh(wall(16, 9), 4, 5).edit(state=("usemtl skin",))
FLOOR = SHEET.edit(positions=SHEET.positions[:, [0, 2, 1]] * [1, 1, -1])  # v increases away from a viewer in front
Z_UP = Upright((0.0, 0.0, 1.0), (0.0, -1.0, 0.0))


def turned_about_y(mesh: Mesh, degrees: float) -> Mesh:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return mesh.edit(positions=mesh.positions @ np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]]).T)


@pytest.mark.parametrize("degrees", [0, 37, 90, 180, -120])
def test_without_a_statement_it_is_looked_at_head_on(tmp_path: Path, degrees: float) -> None:
    mesh = turned_about_y(SHEET, degrees)
    fit = fit_sequence(series_of(tmp_path, {1: mesh, 2: mesh}), FitRequest())
    normal = [np.sin(np.radians(degrees)), 0, np.cos(np.radians(degrees))]
    assert fit.shot.camera.axes[2] == pytest.approx(-np.array(normal), abs=1e-5)
    found = read_lettering(fit)
    assert found is not None
    assert found[0].seen.tolist() == [1, 1]
    assert found[0].readable().all()


@pytest.mark.parametrize("mesh", [FLOOR, FLOOR.edit(faces=[face[::-1] for face in FLOOR.faces])])
def test_a_floor_is_seen_from_above_and_a_ceiling_from_below_with_the_viewers_right_at_the_right(
    tmp_path: Path, mesh: Mesh
) -> None:
    fit = fit_sequence(series_of(tmp_path, {1: mesh, 2: mesh}), FitRequest())
    assert fit.region is not None
    assert fit.shot.camera.axes[0] == pytest.approx([1, 0, 0], abs=1e-6)
    found = read_lettering(fit)
    assert found is not None
    reading = fit.region.reading
    assert np.cos(np.radians(found[0].turned - reading.turned)) == pytest.approx([1, 1], abs=1e-6)
    assert (found[0].mirrored > 0.5).tolist() == [reading.reads_mirrored] * 2


def test_sides_have_words_for_any_up_axis() -> None:
    """With z up and -y to the front, the cross product of up and front, +x, is to the right."""
    assert side_of("right", Upright()) == side_of("right", Z_UP) == (1, 0, 0)
    assert side_of("below", Z_UP) == (0, 0, -1)
    assert side_of("back", Z_UP) == (0, 1, 0)
    for upright in (Upright(), Z_UP):
        for word in ("front", "back", "right", "left", "above", "below"):
            assert word_of_side(np.array(side_of(word, upright)), upright) == word
    assert up_in_picture(np.array([0.0, 0, 1]), Z_UP) == (0, 1, 0)  # from above, the back is at the top
    assert up_in_picture(np.array([0.0, -1, 0]), Z_UP) == (0, 0, 1)


def test_a_stated_distance_is_from_the_middle_of_the_motion(tmp_path: Path) -> None:
    series = series_of(tmp_path, {1: SHEET, 2: SHEET.edit(positions=np.add(SHEET.positions, [4, 0, 0]))})
    camera = View(side=(0.0, 0.0, 5.0), distance=30.0, field_of_view=50.0).shot(series).camera
    assert camera.position.tolist() == [10, 4.5, 30]
    assert camera.target.tolist() == [10, 4.5, 0]
    assert camera.field_of_view == 50.0


def test_density_by_each_statement(tmp_path: Path) -> None:
    series = series_of(tmp_path, {1: SHEET, 2: SHEET})
    fills = fit_sequence(series, FitRequest())
    assert fills.density == pytest.approx(1920 / 16)
    assert fills.material.pixels(fills.density) == (1920, 1080)
    assert fit_sequence(series, FitRequest(fills=3840)).material.pixels(3840 / 16) == (3840, 2160)
    assert fit_sequence(series, FitRequest(density=50)).density == 50
    far = fit_sequence(series, FitRequest(view=View(distance=20, field_of_view=90)))
    assert far.density == pytest.approx(1080 / (2 * 20 * 1.0))


def test_the_material_that_is_meant_is_looked_at(tmp_path: Path) -> None:
    both = second_sheet(SHEET, "fin", [0, 20, 0])
    series = scanned(write(tmp_path, frames({1: both, 2: both})))
    view = View(side=(0.0, 0.0, 1.0), distance=30.0, field_of_view=60.0)
    for name in ("skin", "fin"):
        fit = fit_sequence(series, FitRequest(view=view, material=name, rectangle=Rectangle(0.4, 0.4, 0.6, 0.6)))
        assert fit.region is not None
        assert str(fit.region.material) == str(fit.material.material) == name
        assert fit.region.island == ("skin", "fin").index(name)
    with pytest.raises(MeshqcError, match="no material with UVs is named `tail`; materials with UVs: skin, fin"):
        fit_sequence(series, FitRequest(material="tail"))
    with pytest.raises(MeshqcError, match="no surface under the stated lettering box"):
        fit_sequence(series, FitRequest(rectangle=Rectangle(2, 2, 3, 3)))


def test_comparing_materials_shows_its_progress_and_can_be_stopped(tmp_path: Path) -> None:
    """From behind, lettering isn't readable on either material in the reference frame, so all frames are compared."""
    both = second_sheet(SHEET, "fin", [0, 20, 0])
    series = scanned(write(tmp_path, frames({1: both, 2: both})))
    wanted = FitRequest(view=View(side=(0.0, 0.0, -1.0)))
    told: list[tuple[str, int, int]] = []
    fit_sequence(series, wanted, lambda *stage: told.append(stage))
    assert told[-2:] == [("comparing the materials", 0, 2), ("comparing the materials", 1, 2)]
    told.clear()
    with pytest.raises(Cancelled):
        fit_sequence(
            series, wanted, lambda *stage: told.append(stage), lambda: bool(told) and told[-1][0].startswith("comp")
        )
    assert told[-1] == ("comparing the materials", 0, 2)


def test_without_a_safe_place_there_is_no_lettering(tmp_path: Path) -> None:
    wide = SHEET.edit(positions=SHEET.positions * [3, 1, 1])
    fit = fit_sequence(series_of(tmp_path, {1: SHEET, 2: wide}), FitRequest())
    assert fit.rectangle is None
    assert read_lettering(fit) is None


def test_uvs_without_area_are_refused_in_plain_words(tmp_path: Path) -> None:
    point = SHEET.edit(uvs=np.zeros((1, 2)), faces=[tuple((v, 0, n) for v, _, n in face) for face in SHEET.faces])
    both = second_sheet(point, "fin", [0, 20, 0])
    series = scanned(write(tmp_path, frames({1: both, 2: both})))
    assert [facts.readable for facts in series.facts] == [True, True]
    with pytest.raises(NoTexture, match="the UVs have no area"):
        fit_sequence(series, FitRequest())


def test_a_few_crammed_faces_ask_for_no_giant_texture(tmp_path: Path) -> None:
    crammed = SHEET.edit(uvs=SHEET.uvs * 1e-3)
    fit = fit_sequence(series_of(tmp_path, {1: crammed, 2: crammed}), FitRequest())
    width, height = fit.material.pixels(fit.density)
    assert fit.limited
    assert 0.9 * IMAGE_PIXELS.value < width * height <= IMAGE_PIXELS.value
    assert fit_sequence(fit.series, FitRequest(fills=1920)).material.pixels(120)[0] > 1_000_000


def test_every_material_has_one_density(tmp_path: Path) -> None:
    both = second_sheet(SHEET, "fin", [0, 20, 0])
    series = scanned(write(tmp_path, frames({1: both, 2: both})))
    whole = fit_sequence(series, FitRequest())
    for name in ("skin", "fin"):
        alone = fit_sequence(series, FitRequest(material=name))
        assert alone.density == whole.density
        assert alone.material.pixels(alone.density) == whole.material.pixels(whole.density)


@pytest.mark.parametrize("left", [0.05, 0.3, 0.55, 0.8])
def test_lettering_is_judged_from_the_side_that_its_box_faces(left: float, tmp_path: Path) -> None:
    body = torus(24, 16)
    series = series_of(tmp_path, {1: body, 2: body})
    fit = fit_sequence(series, FitRequest(rectangle=Rectangle(left, 0.2, left + 0.1, 0.3)))
    assert fit.region is not None
    assert fit.region.side is None
    lettering = read_lettering(fit)
    assert lettering is not None
    assert lettering[0].facing.min() > 0.9
