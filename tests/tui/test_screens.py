"""Screens as a person sees them, at the smallest size and at a large one."""

from __future__ import annotations

import pytest

from inspector.tui.glyphs import ASCII
from inspector.tui.messages import Writing
from inspector.tui.writing_screen import WritingScreen
from tests.tui.screens import LARGE, MEDIUM, SMALL, app_on, assert_screen, press, resize, screen_text
from tests.tui.world import harbour

SCREENS = {
    "main": (),
    "problem": ("n",),
    "second-problem": ("n", "n"),
    "help": ("question_mark",),
    "sort": ("s",),
    "filtered": ("f", "4"),
    "goto": ("g",),
    "compare-with": ("k", "o"),
    "actions": ("colon",),
    "actions-found": ("colon", *"frame"),
    "finding": ("n", "enter"),
    "other-sequence": ("shift+tab", "down"),
    "empty-plan": ("p",),
}


@pytest.mark.parametrize("name", SCREENS)
async def test_screen(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot, *SCREENS[name])
        assert_screen(app, name)
        assert_names_a_way_out(screen_text(app))
        await resize(pilot, LARGE)
        assert_screen(app, name)


async def test_writing(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        writing = WritingScreen(app.session, app.glyphs, "/shots/harbour_fixed")
        await app.push_screen(writing)
        writing.show(Writing("check", 112, 240))
        for size in (SMALL, MEDIUM, LARGE):
            await resize(pilot, size)
            assert_screen(app, "writing")


def assert_names_a_way_out(text: str) -> None:
    last_rows = text.rstrip().splitlines()[-2:]
    assert any("quit" in row or "back" in row for row in last_rows)


async def test_ascii_screens_hold_nothing_but_ascii(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch, ASCII)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        for keys in SCREENS.values():
            await press(pilot, *keys)
            assert screen_text(app).isascii()
            while len(app.screen_stack) > 1:
                await press(pilot, "escape")
