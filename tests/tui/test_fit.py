"""Tests of the page about a material's texture."""

from __future__ import annotations

import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from threading import Event

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from inspector.inspection.inspection import inspect_folder
from inspector.lettering.sequence_fit import FitRequest, fit_sequence, read_lettering
from inspector.report.fit_text import FitReport, fit_text
from inspector.report.text_style import TextStyle
from inspector.tui.app import MeshqcApp
from inspector.tui.screens.fit_screen import FitScreen
from inspector.tui.workers import fit_engine
from tests.helpers.command import harmful
from tests.helpers.tui.screens import SMALL, app_on, assert_screen, press, resize, screen_text, until
from tests.helpers.tui.world import harbour


@asynccontextmanager
async def fitted(folder: Path, patch: pytest.MonkeyPatch) -> AsyncIterator[tuple[MeshqcApp, Pilot[int]]]:
    app = app_on(inspect_folder(folder), patch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await press(pilot, "t")
        yield app, pilot


async def type_path(app: MeshqcApp, pilot: Pilot[int], path: Path) -> None:
    app.screen.query(Input).first().value = str(path)
    await press(pilot, "enter")


async def test_screens(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    async with fitted(demo / "manta", monkeypatch) as (app, pilot):
        await until(pilot, lambda: "0 up" in screen_text(app))  # the drawing follows the figures
        assert_screen(app, "fit")
        text = screen_text(app)
        assert "w: write a template to draw on" in text
        assert "in all frames" in text
        for label in ("0 up", "1 up"):  # on the islands in the drawing
            assert any(label in row[:39] for row in text.splitlines())
        await resize(pilot, (50, 24))  # there is no space for a drawing
        assert "0 up" not in screen_text(app)


async def test_boxes_in_pixels_of_the_texture_from_its_top_left(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`meshqc fit` gives the box of island 1 as UV left 0.6348, bottom 0.5386, right 0.8652, top 0.7351. The texture
    has 480 x 200 pixels (demo/folders.py)."""
    async with fitted(demo / "manta", monkeypatch) as (app, _):
        text = " ".join(row[40:].strip() for row in screen_text(app).splitlines())
        left, top = 0.6348 * 480, (1 - 0.7351) * 200
        wide, high = (0.8652 - 0.6348) * 480, (0.7351 - 0.5386) * 200
        assert f"box at {left:.0f}, {top:.0f}, {wide:.0f} x {high:.0f} px" in text
        assert "textures/manta.png, 480 x 200 px" in text
        assert "lettering upright" in text


async def test_it_says_what_the_command_says(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    async with fitted(demo / "manta", monkeypatch) as (app, pilot):
        await resize(pilot, (100, 60))
        await press(pilot, "enter")
        fit = fit_sequence(app.session.view.series, FitRequest())
        said = fit_text(FitReport(fit, read_lettering(fit), ()), TextStyle(100)).splitlines()
        text = screen_text(app)
        assert [line for line in said if line.rstrip() and line.rstrip() not in text] == []


async def test_the_template_on_one_key(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    async with fitted(demo / "manta", monkeypatch) as (app, pilot):
        await press(pilot, "w")
        await type_path(app, pilot, demo / "manta" / "template.svg")
        assert "never written to" in screen_text(app)
        await type_path(app, pilot, tmp_path / "template.gif")
        assert "must end in .png or .svg" in screen_text(app)
        await type_path(app, pilot, tmp_path / "template.svg")
        await resize(pilot, (200, 24))
        assert (
            screen_text(app).count("written: template.svg, manta_skin, 4871 x 2012 px") == 2
        )  # on the top row and on the page
        await press(pilot, "down")
        assert screen_text(app).splitlines()[0].startswith("─ manta.####.obj: texture and lettering ─")
        assert (tmp_path / "template.svg").read_text().startswith("<")
        await press(pilot, "w")
        await type_path(app, pilot, tmp_path / "template.svg")
        assert "already exists" in " ".join(screen_text(app).split())
    assert sorted(path.name for path in tmp_path.iterdir() if path.suffix) == ["template.svg"]


async def test_a_material_at_a_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "kelp"
    folder.mkdir()
    for number in (1, 2):
        shift = 0.1 * number
        leaf = [f"v {x + shift} {y} 0" for x, y in ((0, 0), (2, 0), (2, 1), (0, 1), (4, 0), (4, 1))]
        uvs = [f"vt {u} {v}" for u, v in ((0.0, 0.0), (0.4, 0.0), (0.4, 0.2), (0.0, 0.2), (0.9, 0.0), (0.9, 0.2))]
        faces = ["usemtl leaf", "f 1/1 2/2 3/3 4/4", "usemtl stem\x1b[31m", "f 2/2 5/5 6/6 3/3"]
        (folder / f"kelp.{number:04}.obj").write_text("\n".join([*leaf, *uvs, *faces, ""]))
    async with fitted(folder, monkeypatch) as (app, pilot):
        await press(pilot, "M")
        text = screen_text(app)
        assert "1 leaf" in text
        assert not harmful(text)
        await press(pilot, "2")
        text = screen_text(app)
        assert text.splitlines()[1].startswith("─ stem")
        await press(pilot, "M", "1")
        await press(pilot, "enter")
        assert "  leaf, 1 face" in screen_text(app)
        await press(pilot, "q")
        asked: list[object] = []
        monkeypatch.setattr(fit_engine, "fit", lambda *words: asked.append(words))
        await press(pilot, "M", "2")  # already known
        assert not asked
        assert screen_text(app).splitlines()[1].startswith("─ stem")


async def test_no_uvs_and_a_stop_are_told(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    async with fitted(demo / "kelp_broken", monkeypatch) as (app, pilot):
        assert "UVs" in screen_text(app).splitlines()[2]
        await press(pilot, "w")
        assert "there are no results yet" in screen_text(app)
    begun = Event()

    def slow(_series: object, _wanted: object, _resolver: object, post: fit_engine.Post, cancelled: object) -> None:
        post(fit_engine.Fitting("measuring the surface", 3, 24))
        begun.set()
        while not cancelled():
            time.sleep(0.01)
        post(fit_engine.NotFitted("stopped"))

    monkeypatch.setattr(fit_engine, "fit", slow)
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await pilot.press("t")
        assert begun.wait(30)
        await pilot.pause()
        assert "measuring the surface, 3 of 24" in screen_text(app)
        assert " ██░░░░░░░░░░░░░░░░░░\n" in screen_text(app)
        await press(pilot, "ctrl+c")
        assert "stopped" in screen_text(app)
        assert isinstance(app.screen, FitScreen)
