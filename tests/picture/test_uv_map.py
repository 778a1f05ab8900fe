"""Tests of UV maps that consist of rectangles, so that overlaps and mirrored faces are known."""

from __future__ import annotations

import numpy as np

from inspector.picture.face_counts import coverage
from inspector.picture.marks import MARK
from inspector.picture.uv_map import UvMap, Window, draw_uv_difference, draw_uv_map, moved_triangles, uv_layers

WHOLE = Window(0.0, 0.0, 1.0, 1.0)


def rectangles(*boxes: tuple[float, float, float, float]) -> UvMap:
    """Return a UV map of rectangles (left, bottom, right, top). A rectangle with left > right is mirrored."""
    quads = np.array([[[a, b], [c, b], [c, d], [a, d]] for a, b, c, d in boxes])
    triangles = np.stack([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]], axis=1).reshape(-1, 3, 2)
    sides = np.stack([quads, np.roll(quads, -1, axis=1)], axis=2).reshape(-1, 2, 2)
    face = np.repeat(np.arange(len(boxes)), 2)
    return UvMap(triangles, face, face, sides, sides)


def area(left: int, bottom: int, right: int, top: int) -> np.ndarray:
    mask = np.zeros((100, 100), bool)
    mask[100 - top : 100 - bottom, left:right] = True
    return mask


def test_neighbours_do_not_overlap_and_islands_are_where_they_are() -> None:
    layers = uv_layers(rectangles((0.1, 0.2, 0.5, 0.6), (0.5, 0.2, 0.8, 0.6)), WHOLE, 100, 100)
    assert not layers.overlaps.any()
    assert not layers.mirrored.any()
    assert np.array_equal(layers.island == 0, area(10, 20, 50, 60))
    assert np.array_equal(layers.island == 1, area(50, 20, 80, 60))


def test_overlaps_are_found_exactly() -> None:
    layers = uv_layers(rectangles((0.1, 0.2, 0.5, 0.6), (0.4, 0.5, 0.8, 0.9)), WHOLE, 100, 100)
    assert np.array_equal(layers.overlaps, area(40, 50, 50, 60))


def test_mirrored_faces_are_found() -> None:
    layers = uv_layers(rectangles((0.1, 0.1, 0.3, 0.3), (0.9, 0.1, 0.6, 0.3)), WHOLE, 100, 100)
    assert np.array_equal(layers.mirrored, area(60, 10, 90, 30))


def test_a_face_that_bends_in_is_neither_overlap_nor_mirrored() -> None:
    """The face is a dart. One of its two triangles is clockwise and covers the notch; the other covers the dart and the
    notch.

    The point (0.2, 0.2) is in the dart, and (0.45, 0.45) is in the notch.
    """
    dart = np.array([[0.1, 0.1], [0.9, 0.1], [0.3, 0.3], [0.1, 0.9]])
    triangles = dart[[[0, 1, 3], [1, 2, 3]]]
    crooked = UvMap(triangles, np.array([0, 0]), np.array([0, 0]), np.zeros((0, 2, 2)), np.zeros((0, 2, 2)))
    layers = uv_layers(crooked, WHOLE, 100, 100)
    assert not layers.overlaps.any()
    assert not layers.mirrored.any()
    inside = coverage(WHOLE.to_pixels(triangles, 100, 100), np.array([0, 0]), 100, 100)
    assert inside[99 - 20, 20] == 1
    assert inside[99 - 45, 45] == 0
    assert inside.max() == 1


def test_the_window_shows_neighbours_of_the_square() -> None:
    window = Window(-1.0, -1.0, 2.0, 2.0)
    layers = uv_layers(rectangles((1.25, 1.25, 1.75, 1.75)), window, 90, 90)
    assert layers.island[90 - 75 + 1, 75] == 0
    assert np.flatnonzero(layers.square.all(axis=0)).tolist() == [0, 30, 60]
    assert np.flatnonzero(layers.square.all(axis=1)).tolist() == [0, 30, 60]
    assert window.uvs_of_pixels(90, 90)[0, 0].tolist() == [-1.0 + 1 / 60, 2.0 - 1 / 60]


def test_the_texture_lies_under_the_map() -> None:
    texture = np.full((10, 10, 3), (200, 60, 20), np.uint8)
    texture[:5] = (20, 60, 200)
    drawn = draw_uv_map(rectangles((0.5, 0.0, 1.0, 1.0)), 100, 100, window=WHOLE, texture=texture)
    assert drawn[20, 20].tolist() == [20, 60, 200]
    assert drawn[80, 20].tolist() == [200, 60, 20]
    assert drawn[80, 80, 0] > drawn[20, 80, 0]


def test_overlaps_and_mirrored_parts_are_hatched_in_two_directions() -> None:
    drawn = draw_uv_map(rectangles((0.1, 0.1, 0.4, 0.9), (0.1, 0.1, 0.4, 0.9), (0.9, 0.1, 0.6, 0.9)), 100, 100)
    overlap, mirrored = drawn[20:45, 15:35, 0].astype(int), drawn[20:45, 65:85, 0].astype(int)
    for part, step in ((overlap, -1), (mirrored, 1)):
        along = np.mean(part[:-1, 1:-1] == np.roll(part, -step, axis=1)[1:, 1:-1])
        across = np.mean(part[:-1, 1:-1] == np.roll(part, step, axis=1)[1:, 1:-1])
        assert along > across + 0.2


def test_faces_without_uvs_and_empty_maps_are_drawn_as_nothing() -> None:
    none = np.full((1, 3, 2), np.nan)
    lines = np.zeros((0, 2, 2))
    layers = uv_layers(UvMap(none, np.array([0]), np.array([-1]), lines, lines), WHOLE, 20, 20)
    assert (layers.island < 0).all()
    nothing = np.zeros(0, int)
    empty = uv_layers(UvMap(none[:0], nothing, nothing, lines, lines), WHOLE, 20, 20)
    assert (empty.island < 0).all()
    assert not empty.overlaps.any()


def test_what_lies_elsewhere_has_level_lines_and_the_other_outline_is_dotted() -> None:
    now, before = (
        rectangles((0.1, 0.1, 0.4, 0.9), (0.6, 0.1, 0.9, 0.9)),
        rectangles((0.1, 0.1, 0.4, 0.9), (0.6, 0.1, 0.95, 0.9)),
    )
    moved = moved_triangles(now, before)
    assert moved is not None
    assert moved.tolist() == [False, False, True, True]
    drawn = draw_uv_difference(now, before, 100, 100, window=WHOLE)
    lit = (drawn == MARK).all(axis=2)
    assert not lit[15:85, 15:35].any()
    assert lit[12:88, 65:85].all(axis=1).sum() == 19
    assert lit[20:80, 95].sum() == 30
    assert moved_triangles(now, rectangles((0.1, 0.1, 0.4, 0.9))) is None
    unmoved = draw_uv_difference(now, now, 100, 100, window=WHOLE)
    assert not (unmoved == MARK).all(axis=2)[15:85, 65:85].any()


def test_the_texture_is_dimmer_beside_the_unit_square() -> None:
    texture = np.full((4, 4, 3), 200, np.uint8)
    drawn = draw_uv_map(rectangles((0.1, 0.1, 0.2, 0.2)), 90, 90, window=Window(-1.0, -1.0, 2.0, 2.0), texture=texture)
    assert drawn[45, 45].tolist() == [200] * 3
    assert drawn[45, 15].tolist() == drawn[15, 45].tolist() == [80] * 3
