"""Tests of screens as a user sees them, at three sizes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from inspector.inspection.inspection import inspect_folder
from inspector.sequence.run.cache import FactsCache
from inspector.tui.glyphs import ASCII
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.workers import engine
from inspector.tui.workers.messages import Writing
from tests.helpers.tui.screens import LARGE, MEDIUM, SMALL, app_on, assert_screen, press, resize, screen_text, until
from tests.helpers.tui.world import harbour

SCREENS = {
    "main": (),
    "help": ("question_mark",),
    "sort": ("s",),
    "go-to": ("number_sign",),
    "commands": ("colon", *"frame"),
    "finding": ("n", "enter"),
    "other-sequence": ("shift+tab", "down"),
    "empty-plan": ("p",),
}
SHOWN = {
    "main": (SMALL, MEDIUM, LARGE),
    "finding": (SMALL,),
    "commands": (SMALL,),
    "plan": (SMALL,),
    "before-and-after": (SMALL,),
}
"""The screens that have snapshots, and their sizes. The list is short, so that a small change affects few snapshots."""


@pytest.mark.parametrize("name", SCREENS)
async def test_screen(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot, *SCREENS[name])
        assert_names_a_way_out(screen_text(app))
        await _look(pilot, name)


async def test_writing(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        writing = WritingScreen(app.session, app.glyphs, "/shots/harbour_fixed")
        await app.push_screen(writing)
        writing.show(Writing("check", 112, 240))
        await _look(pilot, "writing")


async def test_the_plan_and_before_and_after(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    deliver = engine.deliver

    def elsewhere(*words: Any) -> Any:
        return replace(deliver(words[0], tmp_path / "out", *words[2:]), out=words[1])

    monkeypatch.setattr(engine, "deliver", elsewhere)
    inspection = inspect_folder(demo / "kelp_broken", cache=FactsCache(None))
    app = app_on(inspection, monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot, "e")
        await until(pilot, lambda: app.session.staged.plan is not None)
        await press(pilot, "p")
        await _look(pilot, "plan")
        await press(pilot, "escape")
        app.write_to(Path("/shots/kelp_fixed"))
        await until(pilot, lambda: app.session.staged.written is not None)
        await _look(pilot, "before-and-after")


async def _look(pilot: Pilot[int], name: str) -> None:
    for size in SHOWN.get(name, ()):
        await resize(pilot, size)
        assert_screen(pilot.app, name)


def assert_names_a_way_out(text: str) -> None:
    last_rows = text.rstrip().splitlines()[-2:]
    assert any(word in row for row in last_rows for word in ("quit", "back", "cancel"))


async def test_ascii_screens_hold_nothing_but_ascii(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch, ASCII)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        for keys in SCREENS.values():
            await press(pilot, *keys)
            assert screen_text(app).isascii()
            while len(app.screen_stack) > 1:
                await press(pilot, "escape")
