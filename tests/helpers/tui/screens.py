"""Functions that compare the text of a screen with a snapshot in tests/tui/snapshots/, and functions that wait, with a
time limit, until a condition holds."""

from __future__ import annotations

import os
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from rich.cells import cell_len
from textual.app import App
from textual.pilot import Pilot

from inspector.inspection.inspection import FolderInspection
from inspector.sequence.discovery.settings import Settings
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import UNICODE, Glyphs
from inspector.tui.workers import engine
from inspector.tui.workers.messages import Checked

_CHAIN = 4  # threads that may start one after another, such as calculating and then drawing a picture
PATIENCE = 30.0  # maximum number of seconds that a busy machine may take
SMALL, MEDIUM, LARGE = (80, 24), (120, 40), (160, 48)
_FOLDER = Path(__file__).parents[2] / "tui" / "snapshots"
_WRITE = "MESHQC_WRITE_SCREENS"
"""Environment variable that makes `assert_screen` rewrite the snapshots. Review the difference before you commit."""


def screen_text(app: App[object]) -> str:
    strips = app.screen._compositor.render_strips()
    rows = ["".join(segment.text for segment in strip) for strip in strips]
    # No widget draws outside its area. A new screen has no rows until it is laid out.
    assert {cell_len(row) for row in rows} <= {app.size.width}
    return "\n".join(row.rstrip() for row in rows) + "\n"


def assert_screen(app: App[object], name: str) -> None:
    """Check that the screen equals its snapshot, which a person has approved."""
    path = _FOLDER / f"{name}-{app.size.width}x{app.size.height}.txt"
    text = screen_text(app)
    if os.environ.get(_WRITE):
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    known = path.read_text(encoding="utf-8") if path.exists() else ""
    assert text == known, f"{path.name} differs; after looking at it, {_WRITE}=1 writes it again\n{text}"


def app_on(inspection: FolderInspection, patch: pytest.MonkeyPatch, glyphs: Glyphs = UNICODE) -> MeshqcApp:
    """Return the app with this inspection, so that it doesn't read the folder."""
    checked = Checked(inspection, engine.views_of(inspection))
    patch.setattr(engine, "read_and_check", lambda _root, _settings, post, *_: post(checked))
    app = MeshqcApp(inspection.root, Settings(), glyphs)
    app.session.fresh = False  # the cursor stays on the first frame for any findings
    return app


@asynccontextmanager
async def opened(
    inspection: FolderInspection, patch: pytest.MonkeyPatch
) -> AsyncIterator[tuple[MeshqcApp, Pilot[int]]]:
    """Open the app with an inspection, in a terminal of the smallest size. Wait until the app is ready for keys."""
    app = app_on(inspection, patch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        yield app, pilot


async def resize(pilot: Pilot[object], size: tuple[int, int]) -> None:
    """Resize the terminal, and wait until everything is laid out for the new size."""
    await pilot.resize_terminal(*size)
    await until(pilot, lambda: pilot.app.screen._compositor.size == size)
    seen = [""]

    def settled() -> bool:  # widgets learn their new size one after another
        seen.append(screen_text(pilot.app))
        return seen[-1] == seen[-2]

    await until(pilot, settled)


def cursor_frame(app: App[object]) -> str:
    rows = screen_text(app).splitlines()
    head = next(at for at, row in enumerate(rows) if row.startswith("  frame file"))
    (line,) = (row for row in rows[head + 1 :] if row.startswith(">") and row[2:].split()[0].strip("*").isdigit())
    return line[2:].split()[0].strip("*")


async def until(pilot: Pilot[object], condition: Callable[[], object], seconds: float = PATIENCE) -> None:
    """Wait until the condition holds. After `seconds`, fail and show the screen."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, f"it never happened\n{screen_text(pilot.app)}"
        await pilot.pause(0.01)


async def press(pilot: Pilot[object], *keys: str) -> None:
    """Press keys, and wait until they have taken effect."""
    await pilot.press(*keys)
    for _ in range(_CHAIN):
        await pilot.app.workers.wait_for_complete()
        await pilot.pause()
        if not any(worker.is_running for worker in pilot.app.workers):
            break
