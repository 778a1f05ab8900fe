"""Tests of captions in the terminal UI."""

from __future__ import annotations

import threading
import tomllib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.lettering.caption_file import Version, read_captions
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import Settings
from inspector.tui.app import MeshqcApp
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.pictures.caption_scene import CaptionLook, CaptionScene, Subject
from inspector.tui.pictures.cells import Cells
from inspector.tui.pictures.scene import source_of
from inspector.tui.screens.caption_screen import CaptionScreen
from inspector.tui.session import Session
from inspector.tui.workers import caption_engine, engine
from tests.helpers.captioned import SHEET, VIEW, cases_of, lettered_folder, overlap, seen_ink
from tests.helpers.command import digests, harmful
from tests.helpers.tui.screens import SMALL, app_on, assert_screen, press, resize, screen_text


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> FolderInspection:
    return inspect_folder(lettered_folder(tmp_path_factory.mktemp("sheets") / "shot"))


@asynccontextmanager
async def captions(
    sheets: FolderInspection, patch: pytest.MonkeyPatch, *keys: str
) -> AsyncIterator[tuple[MeshqcApp, Pilot[int]]]:
    app = app_on(sheets, patch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await press(pilot, "t")
        await press(pilot, "T")
        assert isinstance(app.screen, CaptionScreen)
        for key in keys:
            await press(pilot, key)
        yield app, pilot


async def drawn(pilot: Pilot[int]) -> None:
    """Wait until the picture is drawn."""
    for _ in range(3):
        await press(pilot)


async def answer(app: MeshqcApp, pilot: Pilot[int], text: str) -> None:
    app.screen.query_one(Input).value = text
    await press(pilot, "enter")


async def test_screens(sheets: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with captions(sheets, monkeypatch) as (app, pilot):
        await drawn(pilot)
        assert_screen(app, "captions")
        text = screen_text(app)
        assert "en (1 of 2)" in text
        assert "readable in the required frames" in text
        assert " 1 RRF 3" in text
        assert "frame 1: readable" in text
        await press(pilot, "full_stop", "full_stop")
        assert "frame 3: on the far side" in screen_text(app)
        await press(pilot, "tab")
        assert "pale (2 of 2)" in screen_text(app)
        assert " 1 CCF 3" in screen_text(app)
        await press(pilot, "left_square_bracket")
        assert "frame 2: too little contrast" in screen_text(app)
        await resize(pilot, (40, 12))
        assert " 1 CCF 3" in screen_text(app)


async def test_typed_seen_undone_and_written(
    sheets: FolderInspection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, file = digests(sheets.root), tmp_path / "typed.toml"
    async with captions(sheets, monkeypatch, "tab") as (app, pilot):
        await press(pilot, "i")
        await answer(app, pilot, "AHOY|THERE")
        text = screen_text(app)
        assert "AHOY | THERE" in text
        assert "pale (2 of 2, not written)" in text
        assert " 1 CCF 3" in text
        await press(pilot, "enter", "5")
        await answer(app, pilot, "#12345")
        assert "#10233f" in screen_text(app), "what is allowed"
        await answer(app, pilot, "#123456")
        assert " 1 RRF 3" in screen_text(app)
        await press(pilot, "u")
        assert " 1 CCF 3" in screen_text(app)
        await press(pilot, "A")
        await answer(app, pilot, "NEW")
        assert "caption1 (3 of 3, not written)" in screen_text(app)
        await press(pilot, "q", "T")
        assert "caption1 (3 of 3, not written)" in screen_text(app), "it is kept when the screen is left"
        await press(pilot, "delete")
        assert "pale (2 of 2, not written)" in screen_text(app)
        await press(pilot, "w")
        await answer(app, pilot, str(sheets.root / "captions2.toml"))
        assert "never written to" in screen_text(app)
        await answer(app, pilot, str(file))
        assert "written: typed.toml" in screen_text(app)
        assert "--captions" in screen_text(app)
        await press(pilot, "w")
        await answer(app, pilot, str(file))
        assert "already exists" in " ".join(screen_text(app).split())
    assert digests(sheets.root) == before
    written = tomllib.loads(file.read_text())["version"]
    assert [version["texts"] for version in written] == [["HELLO"], ["AHOY", "THERE"]]
    stated = read_captions(sheets.root / "captions.toml", Scope(sheets.root))
    assert read_captions(file, Scope(tmp_path, [sheets.root]))[0] == stated[0]


async def test_leaving_asks_where_captions_are_not_written(
    sheets: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with captions(sheets, monkeypatch, "i") as (app, pilot):
        await answer(app, pilot, "NEW")
        await press(pilot, "q", "q", "q")
        assert isinstance(app.screen, ChoiceDrawer)
        assert "leaving discards these changes" in screen_text(app)


async def test_without_a_file_the_first_caption_is_typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = lettered_folder(tmp_path / "shot")
    (folder / "captions.toml").unlink()
    async with captions(inspect_folder(folder), monkeypatch) as (app, pilot):
        assert "i: type a caption" in screen_text(app)
        await press(pilot, "enter", "w", "tab", "delete", "l", "full_stop", "right_square_bracket")
        await press(pilot, "i")
        await answer(app, pilot, "HI")
        assert "caption1 (1 of 1, not written)" in screen_text(app)
        assert "too little contrast" in " ".join(screen_text(app).split()), "white on white"


async def test_a_mistake_in_the_file_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = lettered_folder(tmp_path / "shot", '[[version]]\nname = "a"\ntexts = "A"\ncolor\x1b = 1\n')
    async with captions(inspect_folder(folder), monkeypatch) as (app, pilot):
        await drawn(pilot)
        text = screen_text(app)
        assert "captions.toml:notvalidTOML" in "".join(text.split())
        assert not harmful(text)


def painted(folder: Path, look: CaptionLook) -> tuple[np.ndarray, np.ndarray]:
    small = replace(VIEW, width=480, height=270)
    (case,) = cases_of(folder, SHEET, Version("a", ("FR",), colour=(0, 0, 0)), view=small)
    assert case.lettered is not None
    view = engine.views_of(inspect_folder(folder))[0]
    subject = Subject(source_of(Session(folder, Settings()), view), case.lettered, "skin")
    cells = Cells("pixels", 1, 1, lambda _: [])
    picture = CaptionScene(subject, look, 0, cells, 480, 270).paint(1).picture
    return seen_ink(SHEET, case), picture.max(axis=2) < 15  # the background of the sheet is lighter


def test_the_picture_is_that_of_the_camera(tmp_path: Path) -> None:
    assert overlap(*painted(tmp_path, CaptionLook.PICTURE)) > 0.95


def test_a_close_up_shows_the_same_letters_larger(tmp_path: Path) -> None:
    truth, shown = painted(tmp_path, CaptionLook.CLOSE)
    sizes = [np.ptp(np.flatnonzero(ink.any(axis=0))) for ink in (truth, shown)]
    assert 1.2 < sizes[1] / sizes[0] < 1.6


async def test_nothing_is_typed_before_the_captions_file_is_read(
    sheets: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reading takes a while on slow storage. Text that is typed earlier would replace the versions in the file."""
    read, real = threading.Event(), caption_engine.find

    def slow(*words: Any) -> None:
        read.wait(60.0)
        real(*words)

    monkeypatch.setattr(caption_engine, "find", slow)
    app = app_on(sheets, monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await press(pilot, "t")
        for key in ("T", "n", "i", "A", "enter", "w", "tab", "delete"):
            await pilot.press(key)
            await pilot.pause()
        assert isinstance(app.screen, CaptionScreen)
        assert "the captions file is still being read" in screen_text(app)
        assert not app.session.captions
        read.set()
        await press(pilot)
        assert "en (1 of 2)" in screen_text(app)
