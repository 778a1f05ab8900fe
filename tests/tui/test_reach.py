"""Tests of search, copying, the editor, other folders, and the completion of typed paths."""

from __future__ import annotations

import base64
import shutil
from pathlib import Path
from typing import Any

import pytest

from inspector.inspection.inspection import FolderInspection
from inspector.sequence.discovery.settings import Settings
from inspector.tui.actions import outside
from inspector.tui.app import MeshqcApp
from inspector.tui.drawers.prompt import completed
from inspector.tui.glyphs import UNICODE
from inspector.tui.widgets.frame_table import FrameTable
from tests.helpers.tui.screens import SMALL, cursor_frame, opened, press, screen_text
from tests.helpers.tui.world import harbour


async def test_search_and_its_end(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "slash", *"manta.0012", "enter")
        assert cursor_frame(app) == "12"
        await press(pilot, "n")
        assert "no later match for manta.0012 (1 in total)" in screen_text(app)
        await press(pilot, "slash", *"frozen", "enter")
        assert cursor_frame(app) == "20"
        await press(pilot, "slash", *"no such thing", "enter")
        assert "no match for no such thing" in screen_text(app)
        await press(pilot, "slash", "enter", "home", "n")
        assert cursor_frame(app) == "8"  # the next problem again


async def test_j_k_g_and_half_pages_move(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        for key, frame in (("j", "2"), ("j", "3"), ("k", "2"), ("G", "24"), ("g", "1")):
            await press(pilot, key)
            assert cursor_frame(app) == frame, key
        await press(pilot, "ctrl+d")
        assert 3 < int(cursor_frame(app)) < 8
        await press(pilot, "ctrl+u")
        assert cursor_frame(app) == "1"


async def test_copying_sends_the_path_to_the_terminal(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The path is sent in base64 with OSC 52 (xterm control sequences, from memory)."""
    async with opened(broken, monkeypatch) as (app, pilot):
        sent: list[str] = []
        monkeypatch.setattr(type(app), "is_headless", property(lambda _: False))
        monkeypatch.setattr(app._driver, "write", sent.append)
        await press(pilot, "number_sign", "8", "enter", "y", "1")
        (text,) = [one for one in sent if one.startswith("\x1b]52;c;")]
        path = base64.b64decode(text.removeprefix("\x1b]52;c;").removesuffix("\x07")).decode()
        assert path == str(broken.root / "manta_broken.0008.obj")


async def test_the_editor_opens_the_file_at_the_line(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[list[str]] = []

    class Suspended:
        def __enter__(self) -> None:
            pass

        def __exit__(self, *_: object) -> None:
            pass

    def run(words: list[str], **_: Any) -> None:
        ran.append([str(word) for word in words])

    monkeypatch.delenv("VISUAL", raising=False)
    monkeypatch.setenv("EDITOR", "ed -s")
    monkeypatch.setattr(outside.subprocess, "run", run)
    async with opened(broken, monkeypatch) as (app, pilot):
        monkeypatch.setattr(app, "suspend", Suspended)
        await press(pilot, "number_sign", "4", "enter", "E")
        (words,) = ran
        assert words[:2] == ["ed", "-s"]
        assert words[2].startswith("+")
        assert int(words[2][1:]) > 1
        assert words[3] == str(broken.root / "manta_broken.0004.obj")
        await press(pilot, "number_sign", "1", "9", "enter", "E")
        assert "there is no file to open" in screen_text(app)


async def test_another_folder_is_opened_next(
    broken: FolderInspection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(broken, monkeypatch) as (app, pilot):
        await press(pilot, "o")
        assert "relative paths start at" in screen_text(app)
        await press(pilot, *"nowhere", "enter")
        assert "not a folder" in screen_text(app)
        await press(pilot, "ctrl+u", *"mant", "tab")
        assert "manta/  manta_broken/" in screen_text(app)
        await press(pilot, "enter")
    assert app.next_folder == broken.root.parent / "manta"
    assert app.return_value == 0


def test_a_path_is_completed_as_far_as_it_is_certain(tmp_path: Path) -> None:
    for name in ("shot01", "shot02", "kelp", ".hidden"):
        (tmp_path / name).mkdir()
    (tmp_path / "shot03").touch()  # not a folder
    assert completed("k", tmp_path) == ("kelp/", "")
    assert completed("s", tmp_path) == ("shot0", "shot01/  shot02/")
    assert completed(f"{tmp_path}/shot01", tmp_path) == (f"{tmp_path}/shot01/", "")
    assert completed("x", tmp_path)[1] == "no folder name begins with this text"
    assert completed(".h", tmp_path) == (".hidden/", "")
    (tmp_path / "kelp_rest.obj").touch()
    assert completed("k", tmp_path) == ("kelp/", "")
    assert completed("k", tmp_path, files=True) == ("kelp", "kelp/  kelp_rest.obj")
    assert completed("kelp_", tmp_path, files=True) == ("kelp_rest.obj", "")
    assert completed("x", tmp_path, files=True)[1] == "no file or folder name begins with this text"


async def test_a_frame_file_opens_its_folder_at_that_frame(demo: Path) -> None:
    app = MeshqcApp(demo / "manta" / "manta.0017.obj", Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert app.session.root == demo / "manta"
        assert cursor_frame(app) == "17"


@pytest.mark.parametrize("name", ["manta.3.obj", "manta.0003.obj"])
async def test_of_two_files_with_one_number_the_cursor_is_on_the_opened_file(
    name: str, demo: Path, tmp_path: Path
) -> None:
    for source in ("manta.0002.obj", "manta.0003.obj", "manta.0004.obj"):
        shutil.copy(demo / "manta" / source, tmp_path)
    shutil.copy(tmp_path / "manta.0003.obj", tmp_path / "manta.3.obj")
    app = MeshqcApp(tmp_path / name, Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await press(pilot, "f", "2", "f", "1")  # the table is filled again, and the cursor stays
        row = app.query_one(FrameTable).frame_row
        assert row is not None
        facts = app.session.views[0].facts_of(row)
        assert facts is not None
        assert facts.file.path == tmp_path / name


async def test_after_fg_the_screen_is_painted_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-Z leaves the terminal to the shell, so the screen's content is gone."""
    async with opened(harbour(), monkeypatch) as (app, pilot):
        asked: list[dict[str, object]] = []
        monkeypatch.setattr(app, "refresh", lambda **words: asked.append(words))
        app.app_resume_signal.publish(app)
        await pilot.pause()
        assert {"layout": True} in asked
