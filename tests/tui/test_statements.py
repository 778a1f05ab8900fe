"""Tests of the frame range and the size that the user enters in the terminal UI."""

from __future__ import annotations

import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from fractions import Fraction
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from textual.events import Key
from textual.pilot import Pilot

from inspector.checks.base.finding import Finding
from inspector.cli.registry import ready
from inspector.sequence.discovery.settings import Settings
from inspector.tui import run as run_module
from inspector.tui import saved_state
from inspector.tui.actions.outside import copyable
from inspector.tui.app import MeshqcApp
from inspector.tui.drawers.prompt import Prompt
from inspector.tui.glyphs import UNICODE
from inspector.tui.saved_state import load
from inspector.tui.workers import engine
from inspector.tui.workers.messages import Alarm
from tests.helpers.tui.screens import SMALL, assert_screen, cursor_frame, opened, press, screen_text, until
from tests.helpers.tui.world import harbour

RANGE = (Fraction(1), Fraction(15))


@pytest.fixture
def kelp(demo: Path, tmp_path: Path) -> Path:
    """Return a folder with 12 of the kelp's 15 frames (demo/defects.py). The kelp is 180.8 units long instead of
    1.8."""
    return Path(shutil.copytree(demo / "kelp_broken", tmp_path / "kelp"))


@asynccontextmanager
async def opened_on(folder: Path, settings: Settings | None = None) -> AsyncIterator[tuple[MeshqcApp, Pilot[int]]]:
    app = MeshqcApp(folder, settings or Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await until(pilot, lambda: app.session.inspection is not None)
        yield app, pilot


def found(app: MeshqcApp) -> dict[str, Finding]:
    return {one.check: one for one in app.session.views[0].findings}


def stated(app: MeshqcApp) -> tuple[object, object]:
    return app.session.settings.expected, app.session.settings.size


def top(app: MeshqcApp) -> str:
    return screen_text(app).splitlines()[0]


async def state(pilot: Pilot[int], frames: str, size: str) -> None:
    await press(pilot, "z", "ctrl+u", *frames, "tab", "ctrl+u", *size, "enter")


async def test_the_question_shows_what_the_files_show(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "z")
        assert_screen(app, "statements")


async def test_missing_end_frames_and_a_wrong_scale_are_found_once_they_are_stated(kelp: Path) -> None:
    async with opened_on(kelp) as (app, pilot):
        assert not {"missing-frames", "scale-suspect"} & found(app).keys()
        await state(pilot, "1-15", "1.8")
        assert found(app)["missing-frames"].frames == (13, 14, 15)
        assert ", 100 times the stated size of 1.8;" in found(app)["scale-suspect"].message
        assert "stated 1-15, size 1.8" in top(app)
        await press(pilot, "z")
        text = screen_text(app)
        assert "frames > 1-15\n" in text
        assert "size > 1.8\n" in text
        await press(pilot, "enter", "u")
        assert "undone: change of frame range and object size" in screen_text(app)
        assert stated(app) == (None, None)
        assert not {"missing-frames", "scale-suspect"} & found(app).keys()


async def test_keys_that_arrive_together(kelp: Path) -> None:
    """Over a slow link, a whole answer may arrive in one packet. What is typed after Tab belongs to the next line."""
    async with opened_on(kelp) as (app, pilot):
        await press(pilot, "z")
        for key in (*"1-15", "tab", *"1.8"):
            app.post_message(Key(key, "\t" if key == "tab" else key))
        await until(pilot, lambda: "size > 1.8\n" in screen_text(app))
        assert "frames > 1-15\n" in screen_text(app)


async def test_each_can_be_stated_alone_and_taken_back(kelp: Path) -> None:
    async with opened_on(kelp) as (app, pilot):
        await state(pilot, "", "1.8")
        assert stated(app) == (None, 1.8)
        assert "stated size 1.8" in top(app)
        await state(pilot, "1-15", "")
        assert stated(app) == (RANGE, None)
        assert {"missing-frames", "scale-suspect"} & found(app).keys() == {"missing-frames"}


@pytest.mark.parametrize(
    ("frames", "size", "words"),
    [
        ("1..15", "", "frames: expected the first and last frame, such as 1-240, but got 1..15"),
        ("15-1", "", "frames: the last frame is before the first; did you mean 1-15?"),
        ("1-15", "x", "size: expected a number above 0, such as 1.8, but got x"),
        ("", "-2", "size: expected a number above 0, such as 1.8, but got -2"),
    ],
)
async def test_what_cannot_be_used_is_refused_where_it_is_typed(frames: str, size: str, words: str, kelp: Path) -> None:
    async with opened_on(kelp) as (app, pilot):
        await state(pilot, frames, size)
        assert isinstance(app.screen, Prompt)
        assert words in " ".join(screen_text(app).split())
        await press(pilot, "escape")
        assert stated(app) == (None, None)
        assert not app.session.undo


async def test_a_statement_stays_when_the_folder_is_read_again(kelp: Path) -> None:
    async with opened_on(kelp) as (app, pilot):
        await state(pilot, "1-15", "1.8")
        await press(pilot, "r")
        await until(pilot, lambda: app.session.inspection is not None and not app.session.status.text)
        assert stated(app) == (RANGE, 1.8)
        assert {"missing-frames", "scale-suspect"} <= found(app).keys()


async def test_keys_work_while_it_is_checked_and_reading_again_does_not_lose_it(
    kelp: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate, check = Event(), engine.check_again

    def slow(*words: Any) -> None:
        assert gate.wait(30)
        check(*words)

    monkeypatch.setattr(engine, "check_again", slow)
    async with opened_on(kelp) as (app, pilot):
        await pilot.press("z", *"1-15", "enter")
        await until(pilot, lambda: "checking" in top(app))
        before = cursor_frame(app)
        await pilot.press("down")
        await until(pilot, lambda: cursor_frame(app) != before)
        await pilot.press("r")
        await until(pilot, lambda: app.session.inspection is not None and not app.session.status.text)
        gate.set()
        await press(pilot)
        assert stated(app) == (RANGE, None)
        assert "missing-frames" in found(app)


async def test_it_can_be_stated_while_the_frames_are_read(kelp: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    gate, read = Event(), engine.read_and_check

    def slow(*words: Any) -> None:
        assert gate.wait(30)
        read(*words)

    monkeypatch.setattr(engine, "read_and_check", slow)
    app = MeshqcApp(kelp, Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await pilot.press("z", *"1-15", "enter")
        await until(pilot, lambda: stated(app) == (RANGE, None))
        gate.set()
        await until(pilot, lambda: app.session.inspection is not None)
        await press(pilot)
        assert "missing-frames" in found(app)


async def test_a_watched_export_is_not_interrupted(kelp: Path) -> None:
    async with opened_on(kelp) as (app, pilot):
        await pilot.press("L")
        await until(pilot, lambda: app.session.status.live)
        app.post_message(Alarm("frame 3: No UVs"))
        await pilot.press("z")
        await until(pilot, lambda: "can be stated when you stop watching the export (L)" in screen_text(app))
        assert app.session.status.alarms
        await pilot.press("L")
        await press(pilot)


async def test_copied_commands_state_the_same(kelp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    async with opened_on(kelp) as (app, pilot):
        await state(pilot, "1-15", "1.8")
        scale = next(at for at, one in enumerate(app.session.views[0].findings) if one.check == "scale-suspect")
        app.session.selection.finding = scale
        await press(pilot, "1", *"0.01", "enter")
        await until(pilot, lambda: app.session.staged.plan is not None)
        commands = dict(copyable(app.session))
        checks = set(found(app))
    assert commands["check command"] == f"meshqc check {kelp} --frames 1-15 --size 1.8"
    fix = f"meshqc fix {kelp} --output {kelp}_fixed --frames 1-15 --size 1.8 --only scale:factor=0.01"
    assert commands["fix command"] == fix
    ready(commands["check command"].split()[1:])()
    printed = capsys.readouterr().out
    assert all(check in printed for check in checks)
    ready(fix.split()[1:])()
    assert "scale every frame by 0.01" in capsys.readouterr().out


async def test_a_statement_is_kept_until_the_folder_is_open_again(kelp: Path) -> None:
    async with opened_on(kelp) as (app, pilot):
        await state(pilot, "1-15", "1.8")
    async with opened_on(kelp) as (app, pilot):
        assert stated(app) == (RANGE, 1.8)
    async with opened_on(kelp, Settings(size=2.0)) as (app, pilot):  # the new statement takes precedence
        assert stated(app) == (RANGE, 2.0)
        await state(pilot, "", "")
    async with opened_on(kelp) as (app, pilot):
        assert stated(app) == (None, None)


async def test_what_is_left_blank_is_what_the_delivery_rules_state(kelp: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A frame range from the rules is not saved, because the rules may change."""
    rules = kelp / "meshqc.toml"
    rules.write_text('[frames]\nrange = "1-15"\n')
    given: list[Settings] = []
    monkeypatch.setattr(run_module, "run", lambda _folder, settings: given.append(settings) or 0)
    saved_state.save(kelp, saved_state.SavedState())
    assert run_module.reopen() == 0
    async with opened_on(kelp, given[0]) as (app, pilot):
        assert stated(app) == (RANGE, None)
        await press(pilot, "z")
        assert "if blank: 1-15, from the delivery rules" in " ".join(screen_text(app).split())
        await press(pilot, "escape")
        await state(pilot, "1-12", "")
        assert "missing-frames" not in found(app)
        await state(pilot, "", "")
        assert stated(app) == (RANGE, None)
        await state(pilot, "", "1.8")
    assert (load(kelp).stated.expected, load(kelp).stated.size) == (None, 1.8)
    rules.write_text('[frames]\nrange = "1-14"\n')
    assert run_module.reopen() == 0
    async with opened_on(kelp, given[1]) as (app, pilot):
        assert stated(app) == ((1, 14), 1.8)


async def test_a_folder_whose_rules_are_wrong_is_not_opened_from_here(kelp: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    shutil.copytree(kelp, other)
    (other / "meshqc.toml").write_text("[frames]\nrange = 15\n")
    async with opened_on(kelp) as (app, pilot):
        await press(pilot, "o", "ctrl+u", *str(other), "enter")
        assert app.is_running
        assert "meshqc.toml" in " ".join(screen_text(app).split())


async def test_a_healthy_sequence_names_the_key_until_both_are_stated(demo: Path) -> None:
    async with opened_on(demo / "manta") as (app, pilot):
        words = "z state the frame range and the object's size, to find a wrong scale and missing frames at either end"
        assert words in " ".join(screen_text(app).split())
        assert "ready to deliver" not in screen_text(app)  # frames 25-30 may be missing, and the size may be wrong
        await state(pilot, "1-24", "2.542")
        assert "stated 1-24, size 2.542" in top(app)
        assert "no problems found; ready to deliver" in screen_text(app)
        assert "state the frame range" not in screen_text(app)


async def test_the_cursor_goes_to_what_a_statement_finds(demo: Path) -> None:
    """No frame after 24 exists. The cursor is on frame 5, which has no finding."""
    async with opened_on(demo / "manta") as (app, pilot):
        await press(pilot, "number_sign", "5", "enter")
        await state(pilot, "1-30", "")
        assert cursor_frame(app) == "25"
        assert app.session.finding == found(app)["missing-frames"]
        await press(pilot, "1")
        assert isinstance(app.screen, Prompt)  # the fix asks how to fill the frames


async def test_a_statement_leaves_the_cursor_on_a_frame_with_a_finding(kelp: Path) -> None:
    async with opened_on(kelp) as (app, pilot):
        await press(pilot, "number_sign", "5", "enter")
        before = app.session.finding
        await state(pilot, "1-15", "1.8")
        assert cursor_frame(app) == "5"
        assert app.session.finding == before
