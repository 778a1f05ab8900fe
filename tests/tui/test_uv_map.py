"""Tests of the UV map. The expected measurements were determined by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inspector.formats.frame import FaceRun
from inspector.inspection.inspection import FolderInspection
from inspector.names import Name
from inspector.picture.shape import shape_of
from inspector.surface.triangles import triangulate
from inspector.tui.app import MeshqcApp
from inspector.tui.pictures.frame_store import ReadFrame
from inspector.tui.pictures.uv_figures import uv_layout
from inspector.tui.pictures.uv_scene import layout_words, place_of
from inspector.tui.screens.uv_screen import UvScreen
from inspector.tui.view_state import Viewport
from tests.helpers.picture_meshes import frame_of
from tests.helpers.tui.looking import picture, viewer
from tests.helpers.tui.screens import assert_screen, press, screen_text

SCREENS: dict[str, tuple[str, ...]] = {
    "uv-map": (),
    "uv-map-reference": ("b",),
    "uv-map-grid": ("l", "3"),
    "uv-map-material": ("M",),
}


def shown(app: MeshqcApp) -> UvScreen:
    assert isinstance(app.screen, UvScreen)
    return app.screen


@pytest.mark.parametrize("name", SCREENS)
async def test_screen(name: str, broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, key="U") as (app, pilot):
        await press(pilot, *SCREENS[name])
        assert_screen(app, name)


async def test_keys_move_zoom_and_fit(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, key="U") as (app, pilot):
        first, place = picture(app), shown(app).how_viewed.place
        assert place is not None
        seen = {first}
        for key in ("right", "up", "plus", "left", "down"):
            await press(pilot, key)
            assert picture(app) not in seen, key
            seen.add(picture(app))
        await press(pilot, "minus")
        now = shown(app).how_viewed.place
        assert now is not None
        assert now.height == pytest.approx(place.height)
        await press(pilot, "0", "0")
        assert picture(app) == first


async def test_the_difference_to_the_reference_in_words(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch, key="U") as (app, pilot):
        await press(pilot, "b")
        assert "598 faces moved (striped); frame 1 is the dotted outline" in screen_text(app)
        await press(pilot, "home")
        assert "no face has moved relative to frame 1" in screen_text(app)


async def test_from_the_viewer_and_back_on_another_frame(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch) as (app, pilot):
        await press(pilot, "U", "full_stop", "q")
        assert "frame 9 " in screen_text(app)
        assert "shaded" in screen_text(app)


def read(uvs: list[list[float]], faces: list[list[int]]) -> ReadFrame:
    points = np.array(uvs)
    frame = frame_of(np.concatenate([points, np.zeros((len(points), 1))], axis=1), faces, points)
    frame = replace(frame, runs=(FaceRun(0, len(faces), 0),))
    triangles = triangulate(frame.corners, frame.positions)
    return ReadFrame(frame, Name(b"kelp.0001.obj"), triangles, shape_of(frame, triangles))


SQUARE = [[0.0, 0.0], [0.5, 0.0], [0.5, 0.5], [0.0, 0.5]]


def test_figures_of_a_layout() -> None:
    twice = read([*SQUARE, *SQUARE], [[0, 1, 2, 3], [7, 6, 5, 4]])
    layout = uv_layout(twice, None)
    assert (layout.islands, layout.mirrored, layout.bare) == (2, 1, 0)
    assert layout.overlap == pytest.approx(0.5, abs=0.01)
    assert layout_words(layout) == "2 islands; 1 face mirrored (\\); 50.0% of the area overlaps (/)"
    assert len(layout.map.outlines) == len(layout.map.sides) == 8


def test_two_faces_on_one_side_are_one_island() -> None:
    layout = uv_layout(read([*SQUARE, [1.0, 0.0], [1.0, 0.5]], [[0, 1, 2, 3], [1, 4, 5, 2]]), None)
    assert layout_words(layout) == "1 island; no mirrored faces; no overlap"
    assert (len(layout.map.outlines), len(layout.map.sides)) == (6, 8)


def test_a_material_that_no_face_has_gives_an_empty_map() -> None:
    layout = uv_layout(read(SQUARE, [[0, 1, 2, 3]]), Name(b"skin"))
    assert (layout.islands, len(layout.map.face), layout.overlap) == (0, 0, None)
    assert layout_words(layout) == "there are no UVs to show"


def test_a_place_holds_all_points_in_either_shape_of_window() -> None:
    points = np.array([[-1.0, 0.2], [2.0, 0.4], [np.nan, 9.0]])
    for aspect in (0.5, 3.0):
        window = place_of(points, aspect).window(aspect)
        assert (window.left, window.bottom) < (-1.0, 0.2)
        assert (window.right, window.top) > (2.0, 0.4)
        assert window.bottom < 0.2
        assert window.top > 0.4
        assert (window.right - window.left) / (window.top - window.bottom) == pytest.approx(aspect)
    assert place_of(points[2:], 1.0) == Viewport()
