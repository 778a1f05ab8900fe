"""Tests of fixes that are chosen with a key."""

from __future__ import annotations

import shutil
import time
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from textual.message import Message
from textual.pilot import Pilot

from inspector.checks.base.finding import Finding, Severity
from inspector.delivery.choices import lossless_choices
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.tui.app import MeshqcApp
from inspector.tui.saved_state import load
from inspector.tui.staged_fixes import Offer, stage, take_out
from inspector.tui.workers import engine
from inspector.tui.workers.messages import NotWritten, Planning, Writing
from tests.fixes.materials.test_replace_missing_maps import LOST
from tests.helpers.materials import with_library
from tests.helpers.sequences import look_at_all
from tests.helpers.tui.screens import opened, press, screen_text, until


async def go(pilot: Pilot[int], frame: int) -> None:
    await press(pilot, "number_sign", *str(frame), "enter")


def staged(app: MeshqcApp) -> list[tuple[str, list[int]]]:
    steps: Sequence[object] = app.session.staged.plan.steps if app.session.staged.plan else ()
    return [(step.fix, [int(frame) for frame in step.frames]) for step in steps]


async def test_a_number_stages_the_fix_with_its_preview_and_takes_it_out_again(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await go(pilot, 8)
        await press(pilot, "1")
        assert staged(app) == [("uv-shift-back", [8])]
        text = screen_text(app)
        assert "1 [x] Shift UV indices back" in text
        assert "2 [ ] Restore UVs" in text
        assert app.session.staged.plan is not None
        assert app.session.staged.plan.steps[0].summary in text
        assert "1 step staged" in text
        await press(pilot, "1")
        assert staged(app) == []
        assert "1 [ ] Shift UV indices back" in screen_text(app)


def test_a_fix_for_a_finding_without_frames_is_taken_out_of_all_frames() -> None:
    """The finding names no frames, so the fix is staged for all frames of the sequence. The plan states which frames
    the fix changes."""
    fix, finding = fix_by_id("uv-restore"), Finding("no-uvs", Severity.ERROR, "no UVs")
    choices = stage((), fix, finding, "manta", {})
    step: Any = SimpleNamespace(frames=(1, 2, 3))
    assert take_out(choices, Offer(fix, staged=True, step=step), finding, "manta") == ()
    on_two = Finding("no-uvs", Severity.ERROR, "no UVs", (Fraction(2),))
    (left,) = take_out(choices, Offer(fix, staged=True, step=step), on_two, "manta")
    assert left.frames == (1, 3)


async def test_the_same_fix_for_two_findings(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await go(pilot, 9)
        await press(pilot, "1")
        await go(pilot, 11)
        await press(pilot, "1")
        assert staged(app) == [("uv-restore", [9, 11])]
        await press(pilot, "1")
        assert staged(app) == [("uv-restore", [9])]


async def test_two_fixes_for_one_value_are_refused_with_the_reason(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await go(pilot, 8)
        await press(pilot, "1")
        await press(pilot, "2")
        assert staged(app) == [("uv-shift-back", [8])]
        text = screen_text(app)
        assert "refused: " in text
        assert "1 [x]" in text
        assert "2 [ ]" in text


async def test_one_key_stages_every_exact_fix_and_x_unstages_one(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "e")
        chosen = {choice.fix for choice in lossless_choices(broken)}
        before = staged(app)
        assert {fix for fix, _ in before} <= chosen
        assert len(before) > 2
        await press(pilot, "p", "x")
        assert staged(app) == before[1:]
        await press(pilot, "e", "q")
        await press(pilot, "e")
        assert staged(app) == before
        words = "lossless fixes are already staged, some are refused; p: plan, w: write, u: undo\n"
        assert words in screen_text(app)


async def test_without_lossless_fixes_none_is_said_to_be_staged(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("inspector.tui.actions.staging.lossless_choices", lambda _: ())
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "9", "enter", "1", "e")
        assert staged(app)
        words = "no finding has a lossless fix; press 1-9 to stage a finding's fix\n"
        assert words in screen_text(app)  # on one line


async def test_every_lossless_fix_is_called_staged_once_it_is_planned(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = engine.plan
    monkeypatch.setattr(engine, "plan", lambda *_: None)
    async with opened(inspect_folder(demo / "kelp_broken"), monkeypatch) as (app, pilot):
        await press(pilot, "e")
        assert "staging every lossless fix; p: plan, u: undo\n" in screen_text(app)
        await press(pilot, "e")
        assert "staging every lossless fix; p: plan, u: undo\n" in screen_text(app)
        monkeypatch.setattr(engine, "plan", plan)
        await press(pilot, "u", "e")
        assert "every lossless fix is staged; p: plan, w: write, u: undo\n" in screen_text(app)
        await press(pilot, "e")
        assert "every lossless fix is already staged; p: plan, w: write, u: undo\n" in screen_text(app)


async def test_lossless_fixes_that_are_all_refused_are_not_called_staged(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Frame 21 has lost a face (demo/defects.py). The only lossless fix for the resulting finding can't restore the
    face."""
    root = Path(shutil.copytree(demo / "manta", tmp_path / "shot"))
    cut = (demo / "manta_broken" / "manta_broken.0021.obj").read_bytes()
    (root / "manta.0021.obj").write_bytes(cut.replace(b"manta_broken.mtl", b"manta.mtl"))
    async with opened(inspect_folder(root), monkeypatch) as (app, pilot):
        await press(pilot, "e")
        words = "no lossless fix can be applied: faces were added or lost, so the outline differs"
        assert words in " ".join(screen_text(app).split())
        assert "staged" not in screen_text(app)
        await press(pilot, "e")
        assert words in " ".join(screen_text(app).split())
        await press(pilot, "p")
        assert "> refused   Restore the faces" in screen_text(app)
        await press(pilot, "q", "q")
    assert app.return_value == 0  # left without a question
    assert load(root).choices == ()


async def test_x_on_a_refusal_unstages_no_step_on_other_frames(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The fix `restore-faces` works for frames 20 and 22. For frame 21, the fix is refused, because the frame has lost
    a face (demo/defects.py)."""
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "e")
        await press(pilot, "p", "G")
        before = staged(app)
        assert ("restore-faces", [20, 22]) in before
        text = screen_text(app)
        assert "> refused   Restore the faces " in text
        assert "refused: faces were added or lost" in text
        assert "\nframe 21\n" in text
        await press(pilot, "x")
        assert staged(app) == before
        assert "the fix was refused for these frames" in screen_text(app)


async def test_parameters_are_asked_for_and_a_bad_one_is_refused(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await go(pilot, 19)
        await press(pilot, "1")
        assert "default: blend if possible" in " ".join(screen_text(app).split())
        await press(pilot, "x", "enter")
        assert staged(app) == []
        assert "refused: " in screen_text(app)
        assert " > x" in screen_text(app)  # the typed value stays
        await press(pilot, "escape", "p")
        assert app.session.staged.refused["fill-frames"] in " ".join(screen_text(app).split())  # in full
        await press(pilot, "q", "1", "enter")
        assert staged(app) == [("fill-frames", [19])]


async def test_a_required_parameter_is_not_left_blank(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A texture is missing. The fix requires the parameter `by`, which states what to do about it."""
    async with opened(look_at_all(tmp_path, with_library(LOST)), monkeypatch) as (app, pilot):
        await press(pilot, "1")
        text = " ".join(screen_text(app).split())
        assert "by > drop (remove the maps) or grid (show the test grid instead); required" in text
        assert "blank" not in text
        await press(pilot, "enter")
        assert "by: a value is required" in screen_text(app)
        assert not app.session.staged.choices
        await press(pilot, *"drop", "enter")
        assert [fix for fix, _ in staged(app)] == ["replace-missing-maps"]


async def test_what_is_refused_is_asked_for_again(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    """No mesh file beside the frames can provide the missing UVs of frame 3."""
    async with opened(broken, monkeypatch) as (app, pilot):
        await go(pilot, 3)
        await press(pilot, "2", "enter")
        text = " ".join(screen_text(app).split())
        assert "refused: uv-donor: no mesh file beside the frames fits" in text
        assert "from > " in text
        await press(pilot, "escape")
        assert staged(app) == []


async def test_leaving_with_something_staged_asks_first(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await go(pilot, 8)
        await press(pilot, "1", "q")
        assert "staged but not written" in screen_text(app)
        await press(pilot, "2")
        assert app.is_running
        await press(pilot, "q", "1")
    assert app.return_value == 0


async def test_writing_asks_where_and_says_why_not(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await go(pilot, 8)
        await press(pilot, "1", "w")
        assert "manta_broken_fixed" in screen_text(app)
        await press(pilot, "ctrl+u", ".", "enter")
        assert "already exists" in screen_text(app)
        monkeypatch.chdir(broken.root)
        await press(pilot, "ctrl+u", "x", "enter")
        assert not (broken.root / "x").exists()
        assert app.screen_stack == [app.screen]
        assert app.session.staged.unwritten


async def test_writing_shows_progress_and_can_be_stopped(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    def endless(_plan: object, _out: object, post: engine.Post, cancelled: engine.Cancel) -> None:
        post(Writing("write", 12, 24))
        while not cancelled():
            time.sleep(0.01)
        post(NotWritten("stopped; the output folder was not created"))

    monkeypatch.setattr(engine, "write", endless)
    async with opened(broken, monkeypatch) as (app, pilot):
        await go(pilot, 8)
        await press(pilot, "1", "w")
        await pilot.press("enter")
        await until(pilot, lambda: f"{'█' * 20}{'░' * 20}" in screen_text(app))
        assert "step 1 of 3: writing files, 12 of 24" in screen_text(app)
        await press(pilot, "ctrl+c")
        assert "stopped; the output folder was not created" in screen_text(app)


async def test_the_plan_shows_how_far_its_trial_is(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        monkeypatch.setattr(engine, "plan", lambda *_: None)
        await press(pilot, "e", "p")
        assert "making the plan" in screen_text(app)
        app.post_message(Planning(12, 24))
        await pilot.pause()
        assert "testing ██████████░░░░░░░░░░ 12 of 24 frames" in screen_text(app)


async def test_every_lossless_fix_is_staged_whatever_was_staged_before(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "e")
        plan = app.session.staged.plan
        assert plan is not None
        expected = [(step.fix, step.frames) for step in plan.steps]
        assert ("uv-restore", (3, 5, 6, 9, 11, 14)) in expected
        await press(pilot, "u", "number_sign", "9", "enter", "1")
        plan = app.session.staged.plan
        assert plan is not None
        assert [(step.fix, step.frames) for step in plan.steps] == [("uv-restore", (9,))]
        await press(pilot, "e")
        plan = app.session.staged.plan
        assert plan is not None
        assert sorted((step.fix, step.frames) for step in plan.steps) == sorted(expected)


def test_a_plan_that_is_no_longer_wanted_is_given_up(broken: FolderInspection) -> None:
    posted: list[Message] = []
    wanted = iter([True, True, True, False])
    engine.plan(broken, lossless_choices(broken), posted.append, lambda: next(wanted))
    assert not [one for one in posted if not isinstance(one, Planning)]
    assert next(wanted, None) is None
