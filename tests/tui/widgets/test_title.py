"""Tests of the top row."""

from __future__ import annotations

import pytest

from inspector.inspection.inspection import FolderInspection
from tests.helpers.tui.screens import app_on, press, screen_text, until


@pytest.mark.parametrize("width", [40, 60, 80, 120])
async def test_the_reference_is_named(width: int, broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    name = "ref 1 " if width < 60 else "reference 1 "
    app = app_on(broken, monkeypatch)
    async with app.run_test(size=(width, 24), notifications=True) as pilot:
        await press(pilot)
        assert name in screen_text(app).splitlines()[0]
        await press(pilot, "e")
        await until(pilot, lambda: "6 steps staged" in screen_text(app).splitlines()[0])
        assert name in screen_text(app).splitlines()[0]
        app.session.status.text = "live: 35 frames  L: end"
        app.session.status.alarms = ["frame 8: No UVs  manta.0008.obj"]
        app.show_session()
        await press(pilot)
        top = screen_text(app).splitlines()[0]
        assert "E ALARM frame 8: No UVs" in top
        assert name in top or width == 40
