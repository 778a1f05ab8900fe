"""Tests of the legibility of lettering on sheets in front of a pinhole camera.

At distance d, a length l at right angles to the line of sight is l H / (2 d tan(a / 2)) pixels long in the picture
(projective geometry). H is the height of the picture in pixels, and a is the vertical field of view.
"""

from __future__ import annotations

from fractions import Fraction
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from inspector.lettering.captions import fit_captions
from inspector.lettering.legibility import LETTER_SAMPLES, READ_PIXELS, Legibility, Obstacle, Shot, legibility
from inspector.picture.camera import Camera
from inspector.surface.lettering_box import Rectangle
from tests.helpers.meshes import Mesh
from tests.helpers.shapes import remapped, series_of, sheet_mesh, wall, with_screen

SHEET = sheet_mesh(wall(16, 9), 4, 4).edit(
    positions=sheet_mesh(lambda u, v: (16 * u - 8, 9 * v - 4.5, 0 * u), 4, 4).positions
)
MIDDLE = Rectangle(0.4, 0.4, 0.6, 0.6)
DISTANCE = 20.0
CAMERA = Camera(np.array([0, 0, DISTANCE]), np.zeros(3), np.array([0.0, 1, 0]), field_of_view=40.0)
PER_UNIT = 1080 / (2 * DISTANCE * np.tan(np.radians(20)))


def turned(mesh: Mesh, degrees: float, axis: int = 1) -> Mesh:
    """Turn a mesh about x (0), y (1) or z (2), counter-clockwise if the axis points at the viewer."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = np.eye(3)
    others = [(1, 2), (2, 0), (0, 1)][axis]
    turn[np.ix_(others, others)] = [[c, -s], [s, c]]
    return mesh.edit(positions=mesh.positions @ turn.T)


def seen(folder: Path, *meshes: Mesh, rectangle: Rectangle = MIDDLE, camera: Camera = CAMERA) -> Legibility:
    return legibility(series_of(folder, dict(enumerate(meshes, 1))), Shot(camera), rectangle)


def test_head_on_everything_is_seen_at_its_size(tmp_path: Path) -> None:
    found = seen(tmp_path, SHEET)
    assert found.seen == found.facing == [1.0]
    assert found.hidden == [0.0]
    assert found.height == pytest.approx(0.2 * 9 * PER_UNIT)
    assert found.turned == pytest.approx(0, abs=1e-9)
    # the mean of 20 / sqrt(400 + x^2 + y^2) over |x| < 1.6, |y| < 0.9 is about 1 - (1.6^2 + 0.9^2) / 3 / 800
    assert found.foreshortening == pytest.approx(1 - (1.6**2 + 0.9**2) / 3 / 800, abs=1e-4)


def test_with_parallel_rays_distance_does_not_matter(tmp_path: Path) -> None:
    camera = Camera(np.array([0, 0, 500.0]), np.zeros(3), np.array([0.0, 1, 0]), parallel_height=18.0)
    found = seen(tmp_path, SHEET, turned(SHEET, 60), camera=camera)
    assert found.height == pytest.approx(0.2 * 9 * 1080 / 18)
    assert found.foreshortening == pytest.approx([1, 0.5])
    assert found.seen.tolist() == [1, 1]


def test_foreshortening_is_the_cosine_of_the_turn(tmp_path: Path) -> None:
    small = Rectangle(0.495, 0.495, 0.505, 0.505)
    found = seen(tmp_path, *(turned(SHEET, angle) for angle in (0, 30, 60, 80, 120)), rectangle=small)
    assert found.foreshortening[:4] == pytest.approx(np.cos(np.radians([0, 30, 60, 80])), abs=1e-3)
    assert np.isnan(found.foreshortening[4])
    assert found.facing.tolist() == [1, 1, 1, 1, 0]
    assert found.height[:3] == pytest.approx(0.01 * 9 * PER_UNIT, rel=1e-3)  # a turn about y doesn't change heights


def test_leaning_back_letters_get_lower(tmp_path: Path) -> None:
    small = Rectangle(0.495, 0.495, 0.505, 0.505)
    found = seen(tmp_path, turned(SHEET, -60, axis=0), rectangle=small)
    assert found.height == pytest.approx(0.01 * 9 * PER_UNIT * 0.5, rel=1e-2)


def test_turned_and_mirrored_lettering_is_told(tmp_path: Path) -> None:
    mirrored = remapped(SHEET, lambda u, v: (1 - u, v))
    assert seen(tmp_path / "a", turned(SHEET, 30, axis=2)).turned == pytest.approx(30, abs=1e-5)  # six decimals
    found = seen(tmp_path / "b", mirrored)
    assert found.mirrored == [1.0]
    assert found.turned == pytest.approx(0, abs=1e-6)
    assert not found.readable().any()


def test_aside_and_aslant_it_is_what_the_camera_projects(tmp_path: Path) -> None:
    sheet = turned(turned(SHEET, 50), 20, axis=0)
    small = Rectangle(0.95, 0.9, 0.951, 0.901)
    found = seen(tmp_path, sheet, rectangle=small)
    corners = np.array([[0.95, 0.9], [0.951, 0.9], [0.95, 0.901]])
    flat = np.column_stack([16 * corners[:, 0] - 8, 9 * corners[:, 1] - 4.5, np.zeros(3)])
    place = CAMERA.project(turned(turned(SHEET.edit(positions=flat), 50), 20, axis=0).positions, 1920, 1080)[:, :2]
    along, upward = (place[1:] - place[0]) * [1, -1]
    assert found.turned == pytest.approx(np.degrees(np.arctan2(along[1], along[0])), abs=0.1)
    height = abs(along[0] * upward[1] - along[1] * upward[0]) / np.linalg.norm(along)
    assert found.height == pytest.approx(height, rel=2e-3)


def test_the_surface_hides_itself(tmp_path: Path) -> None:
    """The box extends from x = -1.6 to x = 1.6. A screen at z = 1 with x < 0 hides exactly the box's left half."""
    found = seen(tmp_path, with_screen(SHEET, -5, 0), with_screen(SHEET, -9, -7), with_screen(SHEET, -5, 0.4))
    assert found.facing.tolist() == [1, 1, 1]
    assert found.hidden[:2] == pytest.approx([0.5, 0])
    # from 20 units away, the screen's edge at x = 0.4 hides up to 0.4 * 20 / 19 at z = 0
    assert found.hidden[2] == pytest.approx((1.6 + 0.4 * 20 / 19) / 3.2, abs=0.5 / LETTER_SAMPLES[1])
    assert (found.seen + found.hidden).tolist() == [1, 1, 1]


def test_outside_the_picture_nothing_is_seen(tmp_path: Path) -> None:
    width = 1920 / PER_UNIT
    half, gone = (SHEET.edit(positions=np.add(SHEET.positions, [x, 0, 0])) for x in (width / 2, width))
    found = seen(tmp_path, half, gone)
    assert found.seen == pytest.approx([0.5, 0])
    assert np.isnan(found.height[1])


def test_frames_that_can_be_read_come_as_ranges(tmp_path: Path) -> None:
    angles = [0, 20, 70, 80, 10, 180, 0]
    found = seen(tmp_path, *(turned(SHEET, angle) for angle in angles))
    assert found.readable().tolist() == [True, True, False, False, True, False, True]
    assert found.ranges() == tuple((Fraction(a), Fraction(b)) for a, b in ((1, 2), (5, 5), (7, 7)))


def test_a_rectangle_off_the_surface_is_never_seen(tmp_path: Path) -> None:
    found = seen(tmp_path, SHEET, rectangle=Rectangle(2, 2, 3, 3))
    assert found.seen.tolist() == found.facing.tolist() == [0]
    assert found.ranges() == ()


def drawn_width(text: str) -> float:
    """Return the width of a line of text divided by the height of an H, as drawn and measured with Pillow."""
    font = ImageFont.truetype(str(resources.files("font_source_sans_pro") / "files" / "SourceSansPro-Bold.ttf"), 200)
    sizes = []
    for line in (text, "H"):
        image = Image.new("L", (200 * (len(line) + 1), 400))
        ImageDraw.Draw(image).text((100, 100), line, fill=255, font=font)
        left, top, right, bottom = image.getbbox() or (0, 0, 0, 0)
        sizes.append((right - left, bottom - top))
    return sizes[0][0] / sizes[1][1]


def test_captions_of_different_length(tmp_path: Path) -> None:
    """The box is 16/9 times as wide as it is high. If a line of capitals is w times as wide as it is high, the capitals
    can take up (16/9) / w of the box's height, but at most the whole height."""
    found = seen(tmp_path, SHEET, turned(SHEET, 70))
    short, long, endless, none = fit_captions(["AB", "WIDE MANTAS", "x" * 200, " "], found, aspect=16 / 9)
    height = 0.2 * 9 * PER_UNIT
    assert drawn_width("AB") < 16 / 9 * 1.2
    assert short.share == pytest.approx(min(1.0, 16 / 9 / drawn_width("AB")), rel=0.02)
    assert none.share == 1.0
    assert long.share == pytest.approx(16 / 9 / drawn_width("WIDE MANTAS"), rel=0.02)
    assert long.heights is not None
    assert long.heights[1] == pytest.approx(height * long.share, rel=0.01)
    assert [caption.fits for caption in (short, long, endless)] == [True, True, False]
    assert long.ranges == ((Fraction(1), Fraction(1)),)
    assert height * endless.share < READ_PIXELS < height * long.share


def test_what_keeps_it_from_being_read_is_named(tmp_path: Path) -> None:
    away = SHEET.edit(positions=np.add(SHEET.positions, [100, 0, 0]))
    tiny = SHEET.edit(positions=SHEET.positions * 0.01)
    found = [
        *seen(tmp_path / "a", *(turned(SHEET, a) for a in (0, 70, 180)), turned(SHEET, 60, axis=2), away).obstacles(),
        *seen(tmp_path / "b", with_screen(SHEET, -5, 0)).obstacles(),
        *seen(tmp_path / "c", tiny).obstacles(),
        *seen(tmp_path / "d", remapped(SHEET, lambda u, v: (1 - u, v))).obstacles(),
    ]
    assert found == [
        None,
        Obstacle.ASLANT,
        Obstacle.AWAY,
        Obstacle.TURNED,
        Obstacle.OUTSIDE,
        Obstacle.HIDDEN,
        Obstacle.SMALL,
        Obstacle.MIRRORED,
    ]


def test_lettering_lies_on_the_faces_that_are_meant(tmp_path: Path) -> None:
    back = SHEET.edit(faces=[face[::-1] for face in SHEET.faces])
    v, vt = len(SHEET.positions), len(SHEET.uvs)
    both = Mesh(
        np.concatenate([SHEET.positions, np.add(SHEET.positions, [0, 0, 4])]),
        (*back.faces, *(tuple((a + v, b + vt, -1) for a, b, _ in face) for face in SHEET.faces)),
        np.concatenate([SHEET.uvs, SHEET.uvs]),
    )
    series = series_of(tmp_path, {1: both, 2: both})
    of_second = np.arange(2 * len(SHEET.faces)) >= len(SHEET.faces)
    for faces, facing in ((None, 0.0), (~of_second, 0.0), (of_second, 1.0)):
        assert legibility(series, Shot(CAMERA), MIDDLE, faces).facing.tolist() == [facing, facing]
