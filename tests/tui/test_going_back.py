"""Tests of returning from a screen to the screen from which it was opened."""

from __future__ import annotations

import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.pilot import Pilot

from inspector.cli.registry import ready
from inspector.inspection.inspection import FolderInspection
from inspector.tui.actions.outside import copyable
from inspector.tui.app import MeshqcApp
from inspector.tui.screens.compare_screen import CompareScreen
from inspector.tui.screens.finding_screen import FindingScreen
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.screens.plan_screen import PlanScreen
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.screens.written_screen import WrittenScreen
from inspector.tui.workers import engine
from inspector.tui.workers.messages import NotWritten
from tests.helpers.tui.screens import cursor_frame, opened, press, screen_text, until


@asynccontextmanager
async def written(
    broken: FolderInspection, out: Path, patch: pytest.MonkeyPatch, *way: str
) -> AsyncIterator[tuple[MeshqcApp, Pilot[int]]]:
    async with opened(broken, patch) as (app, pilot):
        await press(pilot, "number_sign", "8", "enter", "1", *way, "w", "ctrl+u", *str(out), "enter")
        await until(pilot, lambda: isinstance(app.screen, WrittenScreen))
        await press(pilot)
        yield app, pilot


@pytest.mark.parametrize(("way", "before"), [((), MainScreen), (("p",), PlanScreen), (("enter",), FindingScreen)])
async def test_the_comparison_goes_back_to_the_result(
    way: tuple[str, ...], before: type, broken: FolderInspection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with written(broken, tmp_path / "out", monkeypatch, *way) as (app, pilot):
        result = screen_text(app)
        for _ in range(2):
            await press(pilot, "c")
            assert isinstance(app.screen, CompareScreen)
            await press(pilot, "q")
            assert screen_text(app) == result
        await press(pilot, "q")
        assert isinstance(app.screen, before)


async def test_the_comparison_begins_and_ends_at_the_frame_of_all_screens(
    broken: FolderInspection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with written(broken, tmp_path / "out", monkeypatch, "enter", "n") as (app, pilot):
        await press(pilot, "c")
        assert "frame 9 " in screen_text(app).splitlines()[0]
        await press(pilot, "full_stop", "full_stop", "q", "q")
        assert isinstance(app.screen, FindingScreen)
        assert "frame 11" in screen_text(app).splitlines()[0]
        await press(pilot, "q")
        assert cursor_frame(app) == "11"


async def test_a_page_about_a_frame_without_findings_shows_no_other_finding(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "3", "enter", "enter", "v", "comma", "q")
        assert isinstance(app.screen, FindingScreen)
        assert "─ frame 2 ─" in screen_text(app)
        assert "nothing found on this frame" in screen_text(app)
        await press(pilot, "n")
        assert "─ No UVs  frame 3 ─" in screen_text(app)


async def test_the_corrected_folder_can_be_copied(
    broken: FolderInspection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with written(broken, tmp_path / "out", monkeypatch) as (app, _):
        texts = dict(copyable(app.session))
    assert texts["corrected folder path"] == str(tmp_path / "out")
    assert ready(texts["verify command"].split()[1:])() in (0, 1)


@pytest.mark.parametrize("ends", ["written", "stopped"])
async def test_a_question_does_not_keep_the_progress_open(
    ends: str, broken: FolderInspection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    go, write = [False], engine.write

    def slow(*words: object) -> None:
        while not go[0]:
            time.sleep(0.01)
        if ends == "written":
            write(*words)  # type: ignore[arg-type]
        else:
            words[2](NotWritten("stopped"))  # type: ignore[operator]

    monkeypatch.setattr(engine, "write", slow)
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "8", "enter", "1", "w", "ctrl+u", *str(tmp_path / "out"))
        await pilot.press("enter", "ctrl+q")
        await until(pilot, lambda: "fixes are staged but not written" in screen_text(app))
        go[0] = True
        last = WrittenScreen if ends == "written" else MainScreen
        await until(pilot, lambda: isinstance(app.screen, last))
        assert not any(isinstance(screen, WritingScreen) for screen in app.screen_stack)
        await press(pilot)
