"""Tests of the layout of faces in UV space. The expected areas of squares and of their overlaps follow from plane
geometry."""

from __future__ import annotations

import time
from itertools import pairwise

import numpy as np
import pytest

from inspector import limits
from inspector.arrays import Indices
from inspector.formats.wavefront.reader import read_frame
from inspector.surface import uv_layers
from inspector.surface.uv_layers import layer_spans
from inspector.surface.uv_layout import OVERLAP_CELLS, UvLayout, is_outside, lay_out, uv_areas
from tests.helpers.meshes import Mesh, grid_faces, mapped, sphere

Quad = list[tuple[float, float]]
CELL = 1.0 / OVERLAP_CELLS


def square(left: float, bottom: float, side: float = 0.25) -> Quad:
    return [(left, bottom), (left + side, bottom), (left + side, bottom + side), (left, bottom + side)]


def turned(corners: Quad, degrees: float) -> Quad:
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    middle = np.mean(corners, axis=0)
    return [tuple(row) for row in ((np.array(corners) - middle) @ turn.T + middle).tolist()]


def mesh_of(*faces: Quad) -> Mesh:
    """Return a mesh in which no two faces share vertices."""
    uvs = np.array([corner for face in faces for corner in face])
    starts = np.cumsum([0, *map(len, faces)])
    rings = [range(start, stop) for start, stop in pairwise(starts)]
    return mapped(np.c_[uvs, np.zeros(len(uvs))], rings, uvs)


def laid(mesh: Mesh, materials: int = 1) -> UvLayout:
    frame = read_frame(mesh.text(decimals=9))
    return lay_out(frame.corners, frame.uvs, np.arange(frame.faces) % materials)


def layers_of(mesh: Mesh, material: Indices, box: tuple[float, float, float, float]) -> Indices:
    """Return the number of layers in every cell of each material, (materials, cells, cells)."""
    frame, cells = read_frame(mesh.text(decimals=9)), OVERLAP_CELLS
    layers = np.zeros((int(material.max()) + 1) * cells**2, np.int64)
    ends = np.array([box[:2], box[2:]])
    for spans in layer_spans(frame.corners, frame.uvs, material, ends, cells):
        cell, layers_here = spans.cells()
        assert not layers[cell].any(), "a cell in two parts"
        layers[cell] = layers_here
    return layers.reshape(-1, cells, cells)


@pytest.mark.parametrize("degrees", [0, 17, 45, 90, 200])
def test_squares_apart_and_half_on_each_other(degrees: float) -> None:
    first, second = turned(square(0.4, 0.4), degrees), turned(square(0.4, 0.4), degrees)
    shift = (np.array(first[1]) - first[0]) / 2.0
    second = [tuple(row) for row in (np.array(second) + shift).tolist()]
    away = [tuple(row) for row in (np.array(second) + 1.2 * shift).tolist()]
    assert laid(mesh_of(first, away)).overlap == 0.0
    assert laid(mesh_of(first, second)).overlap == pytest.approx(1 / 3, abs=0.02)
    assert laid(mesh_of(first, second[::-1])).overlap == pytest.approx(1 / 3, abs=0.02)
    assert laid(mesh_of(first, second), materials=2).overlap == 0.0
    assert laid(mesh_of(first, first, first)).overlap == 1.0


@pytest.mark.parametrize("columns", [2, 5, 17, 65, 129, 257, 300])
def test_a_side_that_two_faces_share_is_no_overlap(columns: int) -> None:
    """With some numbers of columns, sides of faces run through the centres of cells."""
    u, v = np.meshgrid(np.linspace(0, 1, columns), np.linspace(0, 1, 6))
    uvs = np.stack([u.ravel(), v.ravel()], axis=-1)
    mesh = mapped(np.c_[uvs, np.zeros(len(uvs))], grid_faces(6, columns), uvs)
    assert (layers_of(mesh, np.zeros(len(mesh.faces), np.int64), (0.0, 0.0, 1.0, 1.0)) == 1).all()
    triangles = mesh.edit(faces=tuple(part for face in mesh.faces for part in (face[:3], (*face[2:], face[0]))))
    assert laid(triangles).overlap == 0.0


def test_a_face_that_bends_in_covers_its_area() -> None:
    """An L covers 0.75 of a square (shoelace formula). A fan of triangles would also cover the fourth quarter."""
    corner: Quad = [(0, 0), (1, 0), (1, 0.5), (0.5, 0.5), (0.5, 1), (0, 1)]
    frame = read_frame(mesh_of(corner).text())
    assert uv_areas(frame.corners, frame.uvs).tolist() == [0.75]
    layers = layers_of(mesh_of(corner), np.zeros(1, np.int64), (0.0, 0.0, 1.0, 1.0))[0]
    assert layers.sum() * CELL**2 == pytest.approx(0.75, abs=1e-9)
    assert laid(mesh_of(corner, square(0.6, 0.6))).overlap == 0.0
    # row 0 is the bottom row: the missing quarter is at the top right
    assert layers[-1, -1] == 0
    assert layers[0, -1] == layers[-1, 0] == 1


def test_mirrored_share_goes_by_area() -> None:
    assert laid(mesh_of(square(0, 0))).mirrored == 0.0
    assert laid(mesh_of(square(0, 0)[::-1])).mirrored == 1.0
    assert laid(mesh_of(square(0, 0, 0.4), square(0.5, 0, 0.2)[::-1])).mirrored == pytest.approx(0.2)


def test_tiles_and_the_border() -> None:
    inside = laid(mesh_of(square(0, 0, 1.0)))
    assert (inside.box, inside.tiles, inside.crossing.tolist()) == ((0, 0, 1, 1), 1, [])
    assert inside.box is not None
    assert not is_outside(inside.box)
    tiles = laid(mesh_of(square(0, 0), square(1, 0, 1.0), square(-1, 3, 1.0)))
    assert (tiles.tiles, tiles.crossing.tolist()) == (3, [])
    assert tiles.box is not None
    assert is_outside(tiles.box)
    assert laid(mesh_of(square(0, 0), square(0.9, 0), square(0.5, -0.1))).crossing.tolist() == [1, 2]
    rounded = laid(mesh_of(square(0.75, 0.75, 0.25 + limits.UV_DIFFERENCE.value / 2)))
    assert rounded.crossing.tolist() == []


def test_faces_without_area() -> None:
    point, line = [(0.3, 0.3)] * 4, [(0.1, 0.1), (0.2, 0.3), (0.3, 0.5)]
    thin = [(0.5, 0.5), (0.9, 0.5), (0.9, 0.50001), (0.5, 0.50001)]
    assert laid(mesh_of(point, square(0, 0), line, thin)).collapsed.tolist() == [0, 2]


@pytest.mark.parametrize(("high", "collapsed"), [(0.9e-6, [0]), (1.1e-6, [])])
def test_from_which_area_a_face_has_one_in_the_texture(high: float, collapsed: list[int]) -> None:
    """A face counts as having an area in UV space only if twice its area is more than 1e-6 times the square of its
    bounding box's longer side. The longer side is 1 here."""
    assert laid(mesh_of([(0, 0), (1, 0), (0.5, high)])).collapsed.tolist() == collapsed


def test_what_has_no_finite_uvs_is_passed_over() -> None:
    mesh = mesh_of(square(0, 0), square(0.5, 0.5), square(0.5, 0))
    text = mesh.text().replace(b"vt 0.500000 0.500000", b"vt nan 0.5").replace(b"f 9/9 ", b"f 9 ")
    frame = read_frame(text)
    layout = lay_out(frame.corners, frame.uvs, np.zeros(3, np.int64))
    assert layout.box == (0.0, 0.0, 0.25, 0.25)
    assert laid(sphere(4, 5)).box is None
    assert laid(sphere(4, 5)).overlap is None


@pytest.mark.parametrize(("right", "measured"), [(63.9, True), (64.1, False)])
def test_over_how_many_squares_an_overlap_is_measured(right: float, measured: bool) -> None:
    assert (laid(mesh_of([(0, 0), (right, 0), (right, 0.9), (0, 0.9)])).overlap is not None) is measured


def test_a_pattern_repeated_all_over_is_not_sampled() -> None:
    assert laid(mesh_of(square(0, 0, 9.0))).overlap is None
    assert laid(mesh_of(square(0, 0, 1e300))).overlap is None
    assert laid(mesh_of(square(1e6, 0, 1.0), square(1e6, 0, 1.0))).overlap == 1.0


@pytest.mark.parametrize("crossings", [1, 300, 1 << 20])
def test_materials_are_counted_apart_however_they_are_put_together(
    crossings: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance = np.random.default_rng(7)
    faces = [turned(square(*chance.uniform(0.1, 0.6, 2), chance.uniform(0.01, 0.3)), 40 * at) for at in range(60)]
    faces += [faces[0][:3], faces[1][:3]]
    material = chance.integers(0, 9, len(faces))
    box = (-0.2, -0.2, 1.2, 1.2)
    alone = [
        layers_of(
            mesh_of(*(face for face, mine in zip(faces, material == at, strict=True) if mine)),
            np.zeros(int((material == at).sum()), np.int64),
            box,
        )[0]
        for at in range(8)
    ]
    monkeypatch.setattr(uv_layers, "CROSSINGS", crossings)
    together = layers_of(mesh_of(*faces), np.where(material == 8, -1, material), box)
    assert np.array_equal(together, alone)
    assert together.max() > 1


def test_a_material_for_each_face_costs_no_more_than_one_for_all() -> None:
    """With a separate grid for each material, measuring a layout with a material for each face would take a minute."""
    u, v = np.meshgrid(np.linspace(0, 1, 201), np.linspace(0, 1, 201))
    uvs = np.stack([u.ravel(), v.ravel()], axis=-1)
    frame = read_frame(mapped(np.c_[uvs, np.zeros(len(uvs))], grid_faces(201, 201), uvs).text(decimals=9))
    start = time.process_time()
    assert lay_out(frame.corners, frame.uvs, np.zeros(frame.faces, np.int64)).overlap == 0.0
    between = time.process_time()
    assert lay_out(frame.corners, frame.uvs, np.arange(frame.faces)).overlap == 0.0
    assert time.process_time() - between < 20 * (between - start)
