"""Tests of smooth pictures. The expected values follow from plane geometry and Lambert's law."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inspector import _native
from inspector.picture.camera import Camera, frame_points
from inspector.picture.canvas import GROUND, blank
from inspector.picture.shading import KEY
from inspector.picture.shape import Shape
from inspector.picture.smooth import BARE, PLAIN, Coats, Textures, draw_smooth

SQUARE = np.array([[-1.0, -1.0, 0.0], [1.0, -1.0, 0.0], [1.0, 1.0, 0.0], [-1.0, 1.0, 0.0]])
UVS = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
TRIANGLES = np.array([[0, 1, 2], [0, 2, 3]])
SHAPE = Shape(TRIANGLES, np.array([0, 0]), np.array([[0, 1], [1, 2], [2, 3], [3, 0]]), UVS[TRIANGLES])
HEAD_ON = Camera(np.array([0.0, 0.0, 5.0]), np.zeros(3), np.array([0.0, 1.0, 0.0]), parallel_height=4.0)


@pytest.fixture(params=[True, False], ids=["native", "NumPy"])
def core(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> bool:
    if request.param and not _native.active:
        pytest.skip(_native.description())
    monkeypatch.setattr(_native, "active", request.param)
    return request.param


def coats(colour: int, normals: int = -1, *pictures: np.ndarray) -> Coats:
    return Coats(Textures.of(pictures), np.array([[colour, normals]] * 2, np.int32))


def drawn(dress: Coats, camera: Camera = HEAD_ON, size: int = 80, **how: bool) -> np.ndarray:
    return draw_smooth(camera, SQUARE, SHAPE, dress, blank(size, size), **how).astype(int)


def test_a_pixel_gets_the_share_that_is_covered(core: bool) -> None:
    """The square covers the middle half of the picture, but is displaced by a third of a pixel. A unit is 20 pixels."""
    aside = np.array([1 / 60, 0.0, 0.0])
    camera = replace(HEAD_ON, position=HEAD_ON.position + aside, target=HEAD_ON.target + aside)
    picture = drawn(coats(PLAIN), camera)
    inside, ground = picture[40, 40], np.array(GROUND)
    assert picture[40, 20] == pytest.approx(inside, abs=1)
    assert picture[40, 19] == pytest.approx(ground * 2 / 3 + inside / 3, abs=1)  # one of three samples
    assert picture[40, 59] == pytest.approx(ground / 3 + inside * 2 / 3, abs=1)
    assert (picture[40, [18, 60]] == ground).all()


def test_lamberts_law_on_a_normal_map(core: bool) -> None:
    """Brightness is grey x (ambient + key x cosine). The direction of the light is that in shading.py. A surface that
    is seen from the front has no rim light."""
    to_light = np.array([-0.65, 0.6, 0.4])  # the eye looks along -z
    to_light /= np.linalg.norm(to_light)
    for lean in ([0.0, 0.0, 1.0], [-0.6, 0.0, 0.8], [0.6, 0.0, 0.8], [0.0, 0.6, 0.8], [0.0, -0.6, 0.8]):
        encoded = np.rint((np.array(lean) + 1.0) * 127.5)
        normal = encoded / 127.5 - 1.0
        cosine = max(float(normal @ to_light) / float(np.linalg.norm(normal)), 0.0)
        picture = drawn(coats(PLAIN, 0, np.full((4, 4, 3), encoded, np.uint8)))
        assert picture[40, 40] == pytest.approx([212 * min(0.16 + KEY * cosine, 1.0)] * 3, abs=1.0)


def test_a_texture_lies_the_right_way_round(core: bool) -> None:
    """The origin of UVs is the lower left corner."""
    quarters = np.array([[[250, 0, 0], [0, 250, 0]], [[0, 0, 250], [250, 250, 0]]], np.uint8).repeat(8, 0).repeat(8, 1)
    picture = drawn(coats(0, -1, quarters))
    lit = [(picture[row, column] > 60).tolist() for row in (30, 50) for column in (30, 50)]
    assert lit == [[True, False, False], [False, True, False], [False, False, True], [True, True, False]]


def test_a_fine_texture_is_seen_as_its_mean(core: bool) -> None:
    board = ((np.indices((1024, 1024)).sum(axis=0) % 2) * 250).astype(np.uint8)
    picture = drawn(coats(0, -1, np.repeat(board[..., None], 3, axis=2)))[25:55, 25:55, 0]
    assert np.ptp(picture) <= 2
    grey = drawn(coats(0, -1, np.full((1024, 1024, 3), 125, np.uint8)))[40, 40, 0]
    assert picture[15, 15] == pytest.approx(grey, abs=2)


def test_where_there_is_no_texture(core: bool) -> None:
    stripes = drawn(coats(BARE))[25:55, 25:55, 0]
    assert len(np.unique(stripes)) == 2
    bare = replace(SHAPE, corner_uvs=np.full((2, 3, 2), np.nan))
    picture = draw_smooth(HEAD_ON, SQUARE, bare, coats(0, -1, np.full((4, 4, 3), 250, np.uint8)), blank(80, 80))
    assert np.array_equal(picture[25:55, 25:55, 0], stripes)


def test_wires_darken_the_edges(core: bool) -> None:
    plain, wired = drawn(coats(PLAIN)), drawn(coats(PLAIN), with_wires=True)
    changed = (plain != wired).any(axis=2)
    assert changed[19:21, 25:55].any(axis=0).all()
    assert not changed[25:55, 25:55].any()


def test_what_the_near_plane_cuts_keeps_its_texture(core: bool) -> None:
    floor = np.array([[-5.0, 0.0, 5.0], [5.0, 0.0, 5.0], [5.0, 0.0, -50.0], [-5.0, 0.0, -50.0]])
    camera = Camera(np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, -5.0]), np.array([0.0, 1.0, 0.0]), 60.0, 0.01)
    ramp = np.repeat(np.linspace(0, 250, 256).astype(np.uint8)[:, None, None], 3, axis=2).repeat(4, 1)
    picture = draw_smooth(camera, floor, SHAPE, coats(0, -1, ramp), blank(80, 80)).astype(int)
    column = picture[-40:, 40, 0]
    assert (np.diff(column) >= -1).all()
    assert column[-1] > column[0]


def test_both_cores_draw_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    if not _native.active:
        pytest.skip(_native.description())
    rng = np.random.default_rng(22)
    for _ in range(20):
        positions = rng.normal(size=(30, 3))
        triangles = rng.integers(0, 30, (40, 3))
        shape = Shape(triangles, np.arange(40), triangles[:, :2], rng.normal(size=(40, 3, 2)))
        maps = [rng.integers(0, 256, (*rng.integers(1, 40, 2), 3), np.uint8) for _ in range(3)]
        dress = Coats(Textures.of(maps), rng.integers([-2, -1], [3, 3], (40, 2)).astype(np.int32))
        camera = frame_points(positions, rng.normal(size=3), parallel=bool(rng.integers(2)))
        pictures = []
        for active in (True, False):
            monkeypatch.setattr(_native, "active", active)
            pictures.append(draw_smooth(camera, positions, shape, dress, blank(96, 54)).astype(int))
        assert np.abs(pictures[0] - pictures[1]).max() <= 1
        assert (pictures[0] != pictures[1]).mean() < 0.001
