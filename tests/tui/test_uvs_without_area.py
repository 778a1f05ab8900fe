"""Tests of the terminal UI with UVs that are all at one point or on one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.inspection.inspection import inspect_folder
from inspector.tui.screens.fit_screen import FitScreen
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.screens.uv_screen import UvScreen
from inspector.tui.screens.viewer_screen import ViewerScreen
from tests.helpers.quads import WITHOUT_AREA, flat_frames
from tests.helpers.sequences import write
from tests.helpers.tui.screens import opened, press, screen_text

WALKS = {
    ViewerScreen: ("v", "l", "4", "full_stop", "l", "5", "b", "x", "space", "space", "n"),
    UvScreen: ("U", "full_stop", "l", "2", "b", "plus", "right", "G"),
    FitScreen: ("t", "j", "j"),
}


@pytest.mark.parametrize("uvs", WITHOUT_AREA)
async def test_every_screen_goes_on(uvs: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    result = inspect_folder(write(tmp_path, flat_frames(uvs)))
    async with opened(result, monkeypatch) as (app, pilot):
        for screen, keys in WALKS.items():
            for key in keys:
                await press(pilot, key)
                assert "internal error in meshqc" not in screen_text(app), key
            assert isinstance(app.screen, screen) or (screen is FitScreen and uvs != "one material")
            if screen is FitScreen and uvs != "one material":
                assert "the UVs have no area" in " ".join(screen_text(app).split())
            while not isinstance(app.screen, MainScreen):
                await press(pilot, "q")
