"""Tests of every screen of the terminal UI with harmful names and contents."""

from __future__ import annotations

import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest

from inspector.sequence.discovery.settings import Settings
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import ASCII, UNICODE, Glyphs
from inspector.tui.screens.compare_screen import CompareScreen
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.screens.written_screen import WrittenScreen
from inspector.tui.workers import engine
from tests.helpers.command import digests
from tests.helpers.hostile.evil_folders import BAD, FIRST_BAD, bad_contents, evil_names
from tests.helpers.hostile.keyboard import KEYS, ON_MAIN, Keyboard, foreign
from tests.helpers.hostile.walk import ALL_FRAMES, BACK, ROWS, Walker, all_screens
from tests.helpers.tui.fixtures import own_cache, short_tracebacks, short_waits  # noqa: F401
from tests.helpers.tui.screens import SMALL, screen_text, until

LOOKS = [kind for kind, row in ROWS.items() if row.over]
"""The screens on which the tests step through all frames."""


def test_every_screen_has_a_way_to_it() -> None:
    # The tests below that write a delivery reach the screen after writing and press its keys.
    assert all_screens() == {*ROWS, WrittenScreen}, (
        "ROWS in tests/helpers/hostile/walk.py needs a row for each screen: the keys that lead to it"
    )


class Watch:
    """After each key, checks that the screen contains only allowed characters."""

    def __init__(self, app: MeshqcApp) -> None:
        self._app = app
        self.seen: set[str] = set()

    def __call__(self, key: str) -> None:
        text = screen_text(self._app)
        assert text.replace("\n", "").isprintable(), (key, text)  # no control, format, private or unassigned character
        assert not self._app.glyphs.ascii or text.isascii(), (key, text)
        assert not self._app.fatal, (key, self._app.fatal)
        self.seen |= set(text.split("\n"))


@asynccontextmanager
async def walking(folder: Path, glyphs: Glyphs = UNICODE) -> AsyncIterator[tuple[Walker, Watch]]:
    before = digests(folder)
    app = MeshqcApp(folder, Settings(), glyphs)
    watch = Watch(app)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        walker = Walker(app, pilot, watch)
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert app.session.inspection is not None
        yield walker, watch
        await walker.back_to(MainScreen)
        await pilot.press("q", *("1" if app.session.staged.unwritten else ""))
    assert app.return_code == 0
    assert digests(folder) == before


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """Return an event that every delivery waits for before it starts."""
    gate, deliver = threading.Event(), engine.deliver

    def waiting(*words: Any) -> Any:
        assert gate.wait(60)
        return deliver(*words)

    monkeypatch.setattr(engine, "deliver", waiting)
    return gate


async def write(walker: Walker, gate: threading.Event) -> None:
    """Write the corrected folder twice. The first delivery is stopped; the second is completed."""
    app = walker.app
    for stop in (True, False):
        gate.clear()
        await walker.press("e", *ROWS[WritingScreen].ways[0][:-1])
        await walker.pilot.press("enter")
        await until(walker.pilot, lambda: isinstance(app.screen, WritingScreen))
        walker.look("enter")
        if stop:
            await walker.pilot.press("ctrl+c")
        gate.set()
        await walker.press()
        assert isinstance(app.screen, MainScreen if stop else WrittenScreen), screen_text(app)
        assert Path("out").exists() is not stop
        await walker.back_to(MainScreen)


@pytest.mark.parametrize("glyphs", [UNICODE, pytest.param(ASCII, marks=pytest.mark.slow)], ids=["utf-8", "ascii"])
async def test_evil_names_on_every_screen(
    glyphs: Glyphs, gate: threading.Event, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    async with walking(evil_names(tmp_path), glyphs) as (walker, watch):
        await write(walker, gate)
        for kind in ROWS:
            if kind is not WritingScreen:
                await walker.every_key(kind)
        await walker.back_to(MainScreen)
        await walker.press(*ALL_FRAMES, "shift+tab")
        for _ in walker.app.session.views:
            await walker.press("tab")
            await walker.press("n", "enter", "end", BACK)
            for kind in LOOKS:
                await walker.to(kind, ROWS[kind].ways[0])
                await walker.back_to(MainScreen)
            await walker.press("shift+tab", "down")
    told = "\n".join(watch.seen)
    for words in ("[red]", "[/nope]", r"\x1b[2J", r"\x9b5n", r"\u202e", r"\ue000", "…"[glyphs.ascii :]):
        assert words in told


@pytest.mark.slow
async def test_bad_contents_on_every_screen(
    gate: threading.Event, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    async with walking(bad_contents(tmp_path)) as (walker, _):
        await write(walker, gate)
        for kind in LOOKS:
            await walker.every_frame(kind)
        await go_to(walker, "1e308")
        for kind in ROWS:
            if kind is not WritingScreen:
                await walker.every_key(kind, every_line=kind is not CompareScreen)  # it has the viewer's lists


async def go_to(walker: Walker, kind: str) -> None:
    await walker.back_to(MainScreen)
    await walker.press("number_sign", *str(FIRST_BAD + list(BAD).index(kind)), "enter")


@pytest.mark.slow
@pytest.mark.parametrize("bad", BAD)
async def test_every_key_on_every_bad_frame(bad: str, tmp_path: Path) -> None:
    async with walking(bad_contents(tmp_path)) as (walker, _):
        for kind in LOOKS:
            await go_to(walker, bad)
            await walker.every_key(kind, every_line=True)


def test_a_terminal_gets_nothing_but_what_is_ours(tmp_path: Path) -> None:
    with Keyboard(evil_names(tmp_path), "--live", place=tmp_path / "kept") as terminal:
        terminal.until("ALARM")
        terminal.press(b"L")
        terminal.until("e fix")
        for kind, row in ROWS.items():
            if kind is WritingScreen:
                continue
            terminal.press("".join(KEYS.get(key, key) for key in row.ways[0]).encode())
            if row.ways[0]:
                terminal.until_gone(ON_MAIN)
            for _ in range(3):
                terminal.settle()
                terminal.press(b".")
            terminal.back_to_main()
        terminal.press(b"q")
        assert terminal.end() == 0
        terminal.assert_clean()
        assert terminal.screen.title.startswith("meshqc")
        assert not foreign(terminal.raw)
