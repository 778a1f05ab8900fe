"""Screens as text: the one helper for every comparison with tests/tui/snapshots/, and waiting with an end."""

from __future__ import annotations

import os
import time
import unicodedata
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

_CHAIN = 4  # threads that start one after another, as a picture is drawn of what was worked out
PATIENCE = 30.0  # seconds that a busy machine may take
SMALL, MEDIUM, LARGE = (80, 24), (120, 40), (160, 48)
_FOLDER = Path(__file__).parents[2] / "tui" / "snapshots"
_WRITE = "MESHQC_WRITE_SCREENS"
"""Environment variable that makes the helper write the screens again; look at the difference before you commit it."""


def screen_text(app: App[object]) -> str:
    """What stands on the screen, a line a row, without trailing blanks."""
    strips = app.screen._compositor.render_strips()
    rows = ["".join(segment.text for segment in strip) for strip in strips]
    # No widget draws past its place; a new screen has no rows until it is laid out.
    assert {cell_len(row) for row in rows} <= {app.size.width}
    return "\n".join(row.rstrip() for row in rows) + "\n"


def assert_screen(app: App[object], name: str) -> None:
    """The screen is what it was when somebody last looked at it and found it good."""
    path = _FOLDER / f"{name}-{app.size.width}x{app.size.height}.txt"
    text = screen_text(app)
    if os.environ.get(_WRITE):
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    known = path.read_text(encoding="utf-8") if path.exists() else ""
    assert text == known, f"{path.name} differs; after looking at it, {_WRITE}=1 writes it again\n{text}"


def harmful(text: str) -> list[str]:
    """Characters that a terminal acts on or that hide text: controls but the line end, and format characters such as
    bidi overrides (Unicode general categories Cc and Cf)."""
    return [one for one in text if one != "\n" and unicodedata.category(one) in ("Cc", "Cf")]


def app_on(inspection: FolderInspection, patch: pytest.MonkeyPatch, glyphs: Glyphs = UNICODE) -> MeshqcApp:
    """The app, with an inspection in place of the reading of a folder."""
    checked = Checked(inspection, engine.views_of(inspection))
    patch.setattr(engine, "read_and_check", lambda _root, _settings, post, *_: post(checked))
    app = MeshqcApp(inspection.root, Settings(), glyphs)
    app.session.fresh = False  # the cursor stays on the first frame, whatever is found
    return app


@asynccontextmanager
async def opened(
    inspection: FolderInspection, patch: pytest.MonkeyPatch
) -> AsyncIterator[tuple[MeshqcApp, Pilot[int]]]:
    """The app on an inspection at the smaller size, ready for keys."""
    app = app_on(inspection, patch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        yield app, pilot


async def resize(pilot: Pilot[object], size: tuple[int, int]) -> None:
    """Another size of the terminal, until everything is laid out for it."""
    await pilot.resize_terminal(*size)
    await until(pilot, lambda: pilot.app.screen._compositor.size == size)
    seen = [""]

    def settled() -> bool:  # widgets are told of their new size one after another
        seen.append(screen_text(pilot.app))
        return seen[-1] == seen[-2]

    await until(pilot, settled)


def cursor_frame(app: App[object]) -> str:
    """The frame number under the cursor of the main screen's table."""
    rows = screen_text(app).splitlines()
    head = next(at for at, row in enumerate(rows) if row.startswith("  frame file"))
    (line,) = (row for row in rows[head + 1 :] if row.startswith(">") and row[2:].split()[0].strip("*").isdigit())
    return line[2:].split()[0].strip("*")


async def until(pilot: Pilot[object], condition: Callable[[], object], seconds: float = PATIENCE) -> None:
    """Let things happen until the condition holds; fails with the screen after that many seconds."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, f"it never happened\n{screen_text(pilot.app)}"
        await pilot.pause(0.01)


async def press(pilot: Pilot[object], *keys: str) -> None:
    """Press keys and let everything that follows from them happen."""
    await pilot.press(*keys)
    for _ in range(_CHAIN):
        await pilot.app.workers.wait_for_complete()
        await pilot.pause()
        if not any(worker.is_running for worker in pilot.app.workers):
            break
