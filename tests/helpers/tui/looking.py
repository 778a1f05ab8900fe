"""A screen that is opened on a frame, and the screen's picture as text."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace

import pytest
from textual.pilot import Pilot

from inspector.checks.base.runner import Verdict
from inspector.inspection.inspection import FolderInspection
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import UNICODE, Glyphs
from inspector.tui.pictures.render_modes import Look
from tests.helpers.tui.screens import SMALL, app_on, press, screen_text


def with_findings(inspection: FolderInspection, *checks: str) -> FolderInspection:
    """Return the inspection as if only these checks existed, so that new checks don't change the screens."""
    ones = tuple(
        replace(one, verdict=Verdict(tuple(found for found in one.findings if found.check in checks), (), ()))
        for one in inspection.inspections
    )
    return replace(inspection, inspections=ones)


@asynccontextmanager
async def viewer(
    inspection: FolderInspection,
    patch: pytest.MonkeyPatch,
    frame: int = 8,
    glyphs: Glyphs = UNICODE,
    key: str = "v",
    look: Look | None = Look.SHADED,
) -> AsyncIterator[tuple[MeshqcApp, Pilot[int]]]:
    """Go to a frame, and press `key` to open a screen. By default, `key` opens the viewer.

    Colours are turned off, so the text on the screen contains the picture.
    """
    patch.setenv("NO_COLOR", "1")
    app = app_on(with_findings(inspection, "uv-mismatch", "missing-frames"), patch, glyphs)
    if look is not None:
        app.session.view_state.look = look
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await press(pilot, "number_sign", *str(frame), "enter", key)
        yield app, pilot


def picture(app: MeshqcApp) -> str:
    rows = screen_text(app).splitlines()
    return "\n".join(rows[1:-4])
