"""Tests of drawings. The colours of the pixels follow from plane geometry."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inspector.picture.camera import Camera
from inspector.picture.canvas import GROUND, blank, grown, smaller, stamp, stripes
from inspector.picture.drawing import Style, draw
from inspector.picture.marks import MARK
from inspector.picture.ramp import NO_VALUE, Ramp
from inspector.picture.shading import brightness
from inspector.picture.shape import Shape, shape_of
from inspector.picture.view import view
from inspector.picture.wires import line_pixels, points, wires
from inspector.surface.triangles import triangulate
from tests.helpers.picture_meshes import frame_of

# At depth 2, the picture is 4 high, so one unit is 50 pixels and the middle is (100, 100).
SIDE = 200
AHEAD = Camera(np.zeros(3), np.array([0.0, 0.0, -1.0]), np.array([0.0, 1.0, 0.0]), field_of_view=90.0, near=0.1)
SQUARE = np.array([[-1.0, -1.0, -2.0], [1.0, -1.0, -2.0], [1.0, 1.0, -2.0], [-1.0, 1.0, -2.0]])
UVS = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


def shape(positions: np.ndarray, faces: list[list[int]], uvs: np.ndarray | None = None) -> Shape:
    frame = frame_of(positions, faces, uvs)
    return shape_of(frame, triangulate(frame.corners, frame.positions))


def picture(style: Style, positions: np.ndarray = SQUARE, uvs: np.ndarray | None = UVS) -> np.ndarray:
    return draw(AHEAD, positions, shape(positions, [[0, 1, 2, 3]], uvs), style, SIDE, SIDE)


def test_a_square_fills_its_pixels_and_no_others() -> None:
    drawn = picture(Style())
    inside = np.zeros((SIDE, SIDE), bool)
    inside[50:150, 50:150] = True
    assert (drawn[~inside] == GROUND).all()
    assert (drawn[inside] == drawn[100, 100]).all()
    assert (drawn[100, 100] != GROUND).all()


@pytest.mark.parametrize("angle", [0.0, 40.0, -75.0])
def test_brightness_is_the_cosine_to_the_light_and_a_rim_on_both_sides(angle: float) -> None:
    """Brightness is the sum of ambient light, diffuse light (Lambert's law) and a rim light.

    In the coordinates of a camera that looks along -z, the direction to the light is (-0.65, 0.6, 0.4), and the normal
    of the square is (0, -sin(angle), cos(angle)). The rim light is 0.5 * (1 - c) ** 4, where c is the absolute value of
    the cosine of the angle between the normal and the direction to the eye.
    """
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    leaning = (SQUARE + np.array([0.0, 0.0, 2.0])) @ np.array([[1, 0, 0], [0, c, s], [0, -s, c]]) - [0.0, 0.0, 2.0]
    light = np.array([-0.65, 0.6, 0.4])
    cosine = max(light @ [0.0, -s, c] / np.linalg.norm(light), 0.0)
    for triangles in (np.array([[0, 1, 2], [0, 2, 3]]), np.array([[2, 1, 0], [3, 2, 0]])):
        seen = view(AHEAD, leaning, triangles, SIDE, SIDE)
        shade = brightness(seen, AHEAD, leaning, triangles)
        to_eye = AHEAD.position - leaning[triangles[seen.triangle[100, 100]]].mean(axis=0)
        facing = abs(to_eye @ [0.0, -s, c]) / np.linalg.norm(to_eye)
        assert shade[100, 100] == pytest.approx(min(0.16 + 0.78 * cosine + 0.5 * (1.0 - facing) ** 4, 1.0))


def test_a_texture_lies_upright() -> None:
    texture = np.array([[[200, 0, 0], [0, 200, 0]], [[0, 0, 200], [200, 200, 0]]], np.uint8)
    drawn = picture(Style(textures=(texture,), smooth_texture=False))
    corners = drawn[[60, 60, 140, 140], [60, 140, 60, 140]]
    assert np.array_equal(corners > 0, texture.reshape(4, 3) > 0)
    assert len(np.unique(corners[corners > 0])) == 1


def test_without_uvs_a_texture_gives_stripes_and_no_colour() -> None:
    texture = np.full((4, 4, 3), (200, 0, 0), np.uint8)
    inside = picture(Style(textures=(texture,)), uvs=None)[50:150, 50:150]
    assert (inside == inside[..., :1]).all()
    assert len(np.unique(inside)) == 2


def test_values_are_shaded_in_steps() -> None:
    ramp = Ramp(0.0, 1.0, 4)
    frame = shape(SQUARE, [[0, 1, 2, 3]], UVS)
    values = UVS[frame.triangles][..., 0]  # from 0 on the left to 1 on the right
    drawn = picture(Style(values=values, ramp=ramp))
    for step, left in enumerate((50, 75, 100, 125)):
        part = drawn[50:150, left + 1 : left + 24].reshape(-1, 3)
        assert np.unique(part, axis=0).tolist() == [ramp.colours[step].tolist()]


def test_a_ramp_has_even_steps_from_dark_blue_to_light_yellow() -> None:
    """Lightness is weighted as in ITU-R BT.709. The most common kinds of colour blindness preserve the difference
    between blue and yellow."""
    ramp = Ramp(0.0, 10.0, 5)
    values = np.array([-1.0, 0.0, 1.9, 2.0, 9.9, 10.0, 99.0, np.nan])
    assert ramp.steps(values).tolist() == [0, 0, 0, 1, 4, 4, 4, NO_VALUE]
    colours = ramp.colours.astype(float)
    assert np.ptp(np.diff(colours @ [0.2126, 0.7152, 0.0722])) < 1.5
    assert (np.diff(colours @ [0.2126, 0.7152, 0.0722]) > 20).all()
    assert (np.diff(colours[:, :2].mean(axis=1) - colours[:, 2]) > 40).all()
    assert ramp.letters == "ABCDE"


def test_wires_run_along_the_faces_sides_and_not_across() -> None:
    mask = wires(AHEAD, SQUARE * [0.99, 0.99, 1.0], shape(SQUARE, [[0, 1, 2, 3]]).edges, SIDE, SIDE)
    expected = np.zeros((SIDE, SIDE), bool)
    expected[50:150, [50, 149]] = expected[[50, 149], 50:150] = True
    assert np.array_equal(mask, expected)


def test_wires_and_points_behind_the_surface_are_hidden() -> None:
    behind = np.array([[-1.0, -1.0, -4.0], [1.0, -1.0, -4.0], [1.0, 1.0, -4.0], [-3.0, 1.0, -4.0]])
    positions = np.concatenate([SQUARE, behind])
    surface = view(AHEAD, positions, np.array([[0, 1, 2], [0, 2, 3]]), SIDE, SIDE)
    edges = np.array([[4, 5], [5, 6], [6, 7], [7, 4]])
    seen = wires(AHEAD, positions, edges, SIDE, SIDE, surface)
    assert not seen[55:145, 55:145].any()
    assert seen[75, 30:48].all()
    assert points(AHEAD, positions, np.arange(8), SIDE, SIDE, surface).sum() == 5
    assert points(AHEAD, positions, np.arange(8), SIDE, SIDE).sum() == 8


def test_a_wire_on_a_steep_surface_is_seen_whole() -> None:
    """At a shallow angle, the depth changes greatly from pixel to pixel."""
    floor = np.array([[-2.0, -0.5, -1.0], [2.0, -0.5, -1.0], [2.0, -0.5, -40.0], [-2.0, -0.5, -40.0]])
    positions = np.concatenate([floor, [[0.0, -0.5, -1.0], [0.0, -0.5, -40.0]]])
    surface = view(AHEAD, positions, np.array([[0, 1, 2], [0, 2, 3]]), SIDE, SIDE)
    assert wires(AHEAD, positions, np.array([[4, 5]]), SIDE, SIDE, surface)[102:149, 100].all()


def test_lines_have_one_pixel_in_each_column_or_row() -> None:
    random = np.random.default_rng(1)
    for start, end in random.uniform(-60.0, 160.0, (200, 2, 2)):
        mask = line_pixels(np.array([[start, end]]), 100, 100)
        along = 0 if abs(end[0] - start[0]) >= abs(end[1] - start[1]) else 1
        counts = mask.sum(axis=along)
        assert counts.max(initial=0) <= 1
        inside = np.flatnonzero(counts)
        assert len(inside) == 0 or len(inside) == inside[-1] - inside[0] + 1
        for row, column in np.argwhere(mask):
            way = end - start
            off = np.array([column + 0.5, row + 0.5]) - start
            assert abs(way[0] * off[1] - way[1] * off[0]) / np.linalg.norm(way) < 1.0


def test_wires_are_cut_at_the_near_plane() -> None:
    """The wire is below the camera and parallel to the line of sight. It starts behind the camera, so its visible part
    runs from the wire's far end to the picture's lower edge."""
    line = np.array([[0.0, -1.0, 5.0], [0.0, -1.0, -2.0]])
    mask = wires(AHEAD, line, np.array([[0, 1]]), SIDE, SIDE)
    assert mask[150:, 100].all()
    assert mask.sum() == 50


def marked(drawn: np.ndarray) -> np.ndarray:
    return (drawn == MARK).all(axis=2)


def test_problem_faces_are_hatched_and_those_without_a_pixel_framed() -> None:
    positions = np.concatenate([SQUARE, [[0.0, 0.0, -2.5]] * 3, SQUARE + np.array([0.0, 0.0, -3.0])])
    faces = shape(positions, [[0, 1, 2, 3], [4, 5, 6], [7, 8, 9, 10]])
    hatched = marked(draw(AHEAD, positions, faces, Style(marked_faces=np.array([0])), SIDE, SIDE))
    assert not hatched[:50].any()
    assert hatched[50:150, 50:150].mean() == pytest.approx(0.5, abs=0.02)
    framed = marked(draw(AHEAD, positions, faces, Style(marked_faces=np.array([1])), SIDE, SIDE))
    assert np.argwhere(framed).min() == 98
    assert np.argwhere(framed).max() == 102
    assert not framed[100, 100]
    hidden = marked(draw(AHEAD, positions, faces, Style(marked_faces=np.array([2])), SIDE, SIDE))
    assert np.array_equal(hidden, framed)


def test_problem_vertices_are_crossed_and_hidden_ones_left_open() -> None:
    positions = np.concatenate([SQUARE, [[0.5, 0.5, -1.9], [-0.5, 0.5, -3.0]]])
    drawn = draw(
        AHEAD, positions, shape(positions, [[0, 1, 2, 3]]), Style(marked_vertices=np.array([4, 5])), SIDE, SIDE
    )
    x, y, _ = AHEAD.project(positions[4:], SIDE, SIDE).astype(int).T
    crosses = marked(drawn)
    assert crosses[y[0], x[0]]
    assert crosses[y[0] - 2, x[0] + 2]
    assert not crosses[y[0], x[0] + 2]
    assert not crosses[y[1], x[1]]
    assert crosses[y[1] - 2, x[1] + 2]


def test_a_broken_vertex_takes_only_its_faces() -> None:
    positions = np.concatenate([SQUARE, [[np.nan, 0.0, -2.0]]])
    faces = shape(positions, [[0, 1, 2, 3], [0, 1, 4]])
    style = Style(wires=True, points=True, marked_faces=np.array([1]), marked_vertices=np.array([4]))
    assert (draw(AHEAD, positions, faces, style, SIDE, SIDE)[100, 100] != GROUND).all()


def test_canvas_tools() -> None:
    canvas = blank(4, 3, (0, 0, 0))
    stamp(canvas, np.ones((2, 2), bool), -1, 2, (9, 9, 9))
    assert np.argwhere(canvas[..., 0]).tolist() == [[2, 0]]
    stamp(canvas, np.ones((2, 2), bool), 40, 40, (9, 9, 9))
    assert smaller(np.array([[[0], [10]], [[20], [30]]], np.uint8).repeat(3, axis=2), 2).tolist() == [[[15] * 3]]
    assert stripes(1, 6, period=3, thickness=1).tolist() == [[True, False, False] * 2]
    dot = np.zeros((5, 6), bool)
    dot[1, 4] = True
    assert np.argwhere(~grown(dot, 1)[:3, 3:]).size == 0
    assert grown(dot, 1).sum() == 9


def test_parallel_views_shade_and_hide_too() -> None:
    camera = replace(AHEAD, parallel_height=4.0)
    drawn = draw(camera, SQUARE, shape(SQUARE, [[0, 1, 2, 3]]), Style(wires=True), SIDE, SIDE)
    assert (drawn[100, 100] != GROUND).all()
    assert (drawn[50, 50:150] != drawn[100, 100]).all()
