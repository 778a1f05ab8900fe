"""Tests that staged fixes stay staged, that steps can be undone, and that accidents do no harm."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from threading import Event
from typing import Any

import pytest

from inspector.errors import Refusal
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.sequence.discovery.settings import Settings
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import UNICODE
from inspector.tui.saved_state import load
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.screens.written_screen import WrittenScreen
from inspector.tui.workers import engine
from inspector.tui.workers.messages import Alarm, Checked, PlanRefused
from tests.helpers.tui.screens import SMALL, cursor_frame, opened, press, screen_text, until


def staged(app: MeshqcApp) -> list[str]:
    return [step.fix for step in app.session.staged.plan.steps] if app.session.staged.plan else []


async def test_reading_again_and_another_reference_keep_what_is_staged(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "e")
        before = staged(app)
        assert before
        await press(pilot, "r")
        await until(pilot, lambda: staged(app) == before)
        await press(pilot, "number_sign", "2", "enter", "R")
        assert "findings may change; u: undo" in screen_text(app)
        await press(pilot, "enter")  # the harmless answer is the first one
        assert app.session.settings.reference is None
        await press(pilot, "R", "1")
        await until(pilot, lambda: app.session.settings.reference == 2 and not app.session.staged.planning)
        assert "reference 2" in screen_text(app).splitlines()[0]
        assert staged(app)
        await press(pilot, "u")
        await until(pilot, lambda: app.session.settings.reference is None)


def spoil(file: Path) -> None:
    file.write_bytes(file.read_bytes() + b"#\n")


@pytest.mark.parametrize("changed", [spoil, Path.unlink])
@pytest.mark.parametrize("keys", ["e", "er"])
async def test_a_frame_that_changes_before_the_plan_is_made_loses_no_staged_fix(
    keys: str, changed: Callable[[Path], object], demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = tmp_path / "shot"
    shutil.copytree(demo / "kelp_broken", root)
    async with opened(inspect_folder(root), monkeypatch) as (app, pilot):
        await press(pilot, *keys[:-1])
        changed(root / "kelp_broken.0003.obj")
        await press(pilot, keys[-1])  # with the inspection from before the change
        words = " ".join(screen_text(app).split())
        assert "the fixes stay staged, but no plan can be made: " in words
        assert "kelp_broken.0003.obj: " in words
        assert ("(press r on the main screen)" in words) == (changed is spoil)
        choices = app.session.staged.choices
        assert len(choices) == 2
        assert [step.name for step in app.session.undo] == ["staging of every lossless fix"]
        assert load(root).choices == choices

        await press(pilot, "p")
        words = " ".join(screen_text(app).split())
        assert "not made: " in words
        assert "nothing is staged" not in words
        await press(pilot, "q", "w", "enter")
        assert "not written: " in screen_text(app)
        await press(pilot, "q")
        assert "fixes are staged but not written" in screen_text(app)
        checked = Checked(inspection := inspect_folder(root), engine.views_of(inspection))
        monkeypatch.setattr(engine, "read_and_check", lambda _root, _settings, post, *_: post(checked))
        await press(pilot, "2", "r")
        assert app.session.staged.choices == choices
        assert staged(app)
        await press(pilot, "p")
        assert "not made" not in screen_text(app)


async def test_undo_takes_back_staging_marks_and_filter(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "u")
        assert "nothing to undo" in screen_text(app)
        await press(pilot, "number_sign", "8", "enter", "1")
        assert staged(app) == ["uv-shift-back"]
        await press(pilot, "m", "f", "4")
        await press(pilot, "u")
        assert app.session.view_state.arrangement.filter == "all"
        await press(pilot, "u")
        assert not app.session.marked(app.session.views[0])
        await press(pilot, "u")
        assert staged(app) == []
        assert "undone: staging of Shift UV indices back" in screen_text(app)


def steps_of(app: MeshqcApp) -> list[str]:
    return [step.name for step in app.session.undo]


async def test_an_undo_that_is_refused_leaves_the_other_steps(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise Refusal("no longer possible")

    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "8", "enter", "m", "1", "1")
        assert steps_of(app)[2:] == ["unstaging of Shift UV indices back"]
        monkeypatch.setattr(engine, "make_plan", refuse)
        await press(pilot, "u")
        assert "refused: no longer possible" in screen_text(app)
        assert app.session.staged.choices == ()
        assert steps_of(app) == ["marking of frame 8", "staging of Shift UV indices back"]


async def test_a_refusal_removes_its_own_step_and_not_the_newest(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine, "plan", lambda *_: None)
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "8", "enter", "1", "m")
        app.post_message(PlanRefused(app.session.staged.choices, "not possible"))
        await press(pilot)
        assert app.session.staged.choices == ()
        assert steps_of(app) == ["marking of frame 8"]


@pytest.mark.parametrize("keys", ["1", "1r"])
async def test_a_refusal_keeps_what_was_staged_and_not_planned_yet(
    keys: str, broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second fix is staged while the first fix is being planned. The plan of the first fix is either the initial plan
    or a new plan, which is made after the folder has been read again."""
    waiting, make = "plan_again" if "r" in keys else "plan", engine.plan_again
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "8", "enter", *keys[:-1])
        monkeypatch.setattr(engine, waiting, lambda *_: None)
        await press(pilot, keys[-1])
        assert app.session.staged.planning
        before = app.session.staged.choices
        monkeypatch.setattr(engine, "plan", lambda _inspection, choices, post, _: post(PlanRefused(choices, "why")))
        monkeypatch.setattr(engine, "plan_again", make)
        await press(pilot, "2")
        assert "refused: why" in screen_text(app)
        assert app.session.staged.choices == before
        assert staged(app) == ["uv-shift-back"]
        assert steps_of(app) == ["staging of Shift UV indices back"]


async def test_write_in_a_hurry_waits_for_the_plan(
    broken: FolderInspection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate, plan = Event(), engine.make_plan

    def slow(*words: Any) -> Any:
        assert gate.wait(30)
        return plan(*words)

    monkeypatch.setattr(engine, "make_plan", slow)
    monkeypatch.chdir(tmp_path)
    async with opened(broken, monkeypatch) as (app, pilot):
        await pilot.press("e", "w", "ctrl+u", *"out", "enter")
        await until(pilot, lambda: "writing starts when the plan is ready" in screen_text(app))
        assert not isinstance(app.screen, WritingScreen)
        gate.set()
        await until(pilot, lambda: isinstance(app.screen, WrittenScreen))
        await press(pilot)
        assert "written and verified" in screen_text(app)
        assert (tmp_path / "out").is_dir()


async def test_leaving_before_the_plan_is_made_asks_and_keeps_the_choices(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine, "plan", lambda *_: None)
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "8", "enter", "1", "q")
        assert "fixes are staged but not written" in screen_text(app)
        await press(pilot, "1")
    assert [choice.fix for choice in load(broken.root).choices] == ["uv-shift-back"]


async def test_leaving_before_another_plan_is_made_asks_although_the_last_was_written(
    broken: FolderInspection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "8", "enter", "1", "w", "ctrl+u", *"out", "enter")
        await until(pilot, lambda: isinstance(app.screen, WrittenScreen))
        assert not app.session.staged.unwritten
        monkeypatch.setattr(engine, "plan", lambda *_: None)
        await press(pilot, "q", "number_sign", "9", "enter", "1", "q")
        assert "fixes are staged but not written" in screen_text(app)
        await press(pilot, "1")
    assert [choice.fix for choice in load(broken.root).choices] == ["uv-shift-back", "uv-restore"]


async def test_fixes_stay_written_if_a_statement_or_a_choice_is_undone(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    async with opened(inspect_folder(demo / "kelp_broken"), monkeypatch) as (app, pilot):
        await press(pilot, "e", "w", "ctrl+u", *"out", "enter")
        await until(pilot, lambda: isinstance(app.screen, WrittenScreen))
        await press(pilot, "q")
        assert "2 steps written" in screen_text(app).splitlines()[0]
        await press(pilot, "z", "ctrl+u", *"1-15", "tab", "ctrl+u", *"1.8", "enter")
        assert "2 steps staged" in screen_text(app).splitlines()[0]  # the receipt would contain the statement
        await press(pilot, "u")
        assert app.session.settings.expected is None
        assert "2 steps written" in screen_text(app).splitlines()[0]
        await press(pilot, "1")
        assert app.session.staged.choices
        await press(pilot, "u")
        assert "2 steps written" in screen_text(app).splitlines()[0]
        await press(pilot, "q")
    assert app.return_value == 0  # left without a question


async def test_a_folder_that_vanishes_leaves_the_program_open(demo: Path, tmp_path: Path) -> None:
    folder = tmp_path / "shot"
    shutil.copytree(demo / "manta_broken", folder)
    app = MeshqcApp(folder, Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await press(pilot, "e")
        before = staged(app)
        shutil.rmtree(folder)
        await press(pilot, "r")
        assert app.is_running
        text = " ".join(screen_text(app).split())
        assert "not a readable folder" in text
        assert "r: read again, o: open another folder" in text
        await until(pilot, lambda: staged(app) == before)
        await press(pilot, "n")
        assert cursor_frame(app)


async def test_an_alarm_is_not_covered_by_a_message(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "d")
        app.post_message(Alarm("frame 3: No UVs  manta.0003.obj"))
        await press(pilot)
        app.say("a message that is so long that it takes more than the row that the keys have, with what to do: r")
        await pilot.pause()
        text = screen_text(app)
        assert "E ALARM frame 3: No UVs" in text
        assert text.rstrip().endswith("with what to do: r")
