"""Tests of tasks of a working day, with the number of key presses that each task takes.

The numbers are compared with the numbers of key presses that were counted in a trial of the first version of the
screens.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from inspector.checks.base.finding import Severity
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.tui import saved_state
from inspector.tui.app import MeshqcApp
from inspector.tui.workers import live_engine
from tests.helpers.tui.screens import SMALL, app_on, opened, press, screen_text, until
from tests.helpers.tui.world import finding, folder, inspected, sequence


@dataclass(frozen=True)
class Task:
    """A task on the main screen.

    Attributes:
        keys: The keys to press, as Textual names them.
        before: Number of key presses that the task took in the first version of the screens. None if the task was
            impossible.
        shown: Words on the screen when the task is done.
    """

    name: str
    keys: tuple[str, ...]
    before: int | None
    shown: tuple[str, ...]


TASKS = [
    Task("a fix that adds a frame previewed", ("number_sign", "1", "9", "enter", "v", "v"), 7, ("ADDED", "added from")),
    Task(
        "UVs against the reference",
        ("number_sign", "9", "enter", "U", "b"),
        5,
        ("UV map, with the reference", "faces moved (striped)"),
    ),
    Task("before and after a fix", ("number_sign", "9", "enter", "v", "tab"), None, ("before | AFTER",)),
    Task("frame 18", ("number_sign", "1", "8", "enter"), 4, (">    18 ",)),
    Task("text searched", ("slash", *"png", "enter"), None, ("Texture",)),
    Task("the path copied", ("y", "1"), None, ("asked the terminal to copy the file path",)),
    Task("a fix taken back", ("number_sign", "9", "enter", "1", "u"), None, ("undone: staging of Restore UVs",)),
    Task("the template asked for", ("t", "w"), 2, ("write a template",)),
]


@pytest.mark.parametrize("task", TASKS, ids=lambda task: task.name)
async def test_keys_of_a_task(task: Task, broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    assert task.before is None or len(task.keys) <= task.before
    async with opened(broken, monkeypatch) as (app, pilot):
        for key in task.keys:
            await press(pilot, key)
        await until(pilot, lambda: all(words in screen_text(app) for words in task.shown))


async def test_the_worst_frame_understood(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    """The cursor starts on the worst frame. In the first version, understanding the worst frame took four key
    presses."""
    app = app_on(broken, monkeypatch)
    app.session.fresh = True
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await press(pilot, "enter")
        text = screen_text(app)
        assert "you would see:" in text
        assert "what it is:" in text


async def test_every_lossless_fix_written_and_compared(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Writing takes three key presses, as in the first version. The comparison with the source takes one more."""
    root = tmp_path / "shot"
    shutil.copytree(demo / "manta_broken", root)
    async with opened(inspect_folder(root), monkeypatch) as (app, pilot):
        await press(pilot, "e", "w", "enter")
        await until(pilot, lambda: "written and verified" in screen_text(app))
        await press(pilot, "c", "l", "2")
        assert "textured, frame" in screen_text(app)
        assert "the corrected frame in shot_" in screen_text(app)


async def test_an_export_watched(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Callable[..., object]] = []
    monkeypatch.setattr(live_engine, "watch_and_check", lambda *words: asked.append(words[0]))
    async with opened(broken, monkeypatch) as (_, pilot):
        await press(pilot, "L")
    assert asked == [broken.root]


async def test_another_folder(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    """In the first version, opening another folder required a new command line."""
    other = broken.root.parent / "manta"
    saved_state.save(other, saved_state.SavedState())
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "o", "1")
    assert app.next_folder == other


async def test_textures_missing_in_five_sequences(monkeypatch: pytest.MonkeyPatch) -> None:
    """In the first version, finding the missing textures took five key presses, and the user had to read every list."""
    ones = [
        inspected(sequence(b"shot%d" % number, range(1, 5)), [finding("texture-missing", Severity.ERROR, 1, 2, 3, 4)])
        for number in range(1, 6)
    ]
    async with opened(folder(*ones), monkeypatch) as (app, _):
        assert "the same in several sequences: E Texture file missing (5 of 5)" in screen_text(app)


async def test_the_editor(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    """Opening the editor was impossible in the first version."""
    asked: list[object] = []
    monkeypatch.setattr(MeshqcApp, "action_editor", lambda self: asked.append(self.session.row))
    async with opened(broken, monkeypatch) as (_, pilot):
        await press(pilot, "E")
    assert len(asked) == 1
