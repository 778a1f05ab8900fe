"""Tests of screens with a picture on a terminal that draws pixels."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import numpy as np
import pytest
from textual.pilot import Pilot

from inspector.inspection.inspection import FolderInspection
from inspector.tui.app import MeshqcApp
from inspector.tui.graphics import Protocol
from inspector.tui.screens.picture_screen import PictureScreen
from tests.helpers.tui.pixel_terminal import PixelTerminal, driver_on
from tests.helpers.tui.screens import app_on, press, resize, until

SIZE = 64, 18
PICTURE = 64 * 14  # cells
SIXEL_ERROR = 16
"""Maximum error of a colour channel, from 0 to 255.

It is larger than in pictures/test_pixels.py, because the texture has more than 256 colours.
"""


@asynccontextmanager
async def viewer_on(
    terminal: PixelTerminal, inspection: FolderInspection, patch: pytest.MonkeyPatch, *keys: str
) -> AsyncIterator[tuple[MeshqcApp, Pilot[int]]]:
    patch.delenv("NO_COLOR", raising=False)
    patch.setattr("textual.constants.COLOR_SYSTEM", "truecolor")
    app = app_on(inspection, patch)
    app.driver_class = driver_on(terminal)
    async with app.run_test(headless=False, size=SIZE) as pilot:
        await press(pilot)
        await press(pilot, "v", *keys)
        yield app, pilot


def wanted(app: MeshqcApp) -> np.ndarray:
    assert isinstance(app.screen, PictureScreen)
    order = app.screen.order()
    assert order is not None
    return order.paint(1).picture


def seen(terminal: PixelTerminal) -> int:
    _, covered = terminal.picture()
    wide, high = terminal.cell
    by_cell = covered.reshape(covered.shape[0] // high, high, covered.shape[1] // wide, wide)
    return int(by_cell.all(axis=(1, 3)).sum())


def assert_shown(terminal: PixelTerminal, app: MeshqcApp, protocol: Protocol) -> None:
    picture = wanted(app)
    pixels, covered = terminal.picture()
    top = terminal.cell[1]  # below the title
    high, wide = picture.shape[:2]
    inside = np.s_[top : top + high, :wide]
    assert covered[inside].mean() > 0.95
    assert covered.sum() == covered[inside].sum()
    error = np.abs(pixels[inside].astype(int) - picture)[covered[inside]]
    assert error.max() <= (SIXEL_ERROR if protocol is Protocol.SIXEL else 0)


@pytest.mark.parametrize("protocol", list(Protocol))
async def test_the_picture_is_there_while_it_is_wanted(
    protocol: Protocol, broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    terminal = PixelTerminal(*SIZE, {protocol})
    async with viewer_on(terminal, broken, monkeypatch) as (app, pilot):
        assert_shown(terminal, app, protocol)
        await press(pilot, "right", "full_stop")
        assert_shown(terminal, app, protocol)
        await press(pilot, "question_mark")
        assert seen(terminal) == 0
        await press(pilot, "q")
        assert_shown(terminal, app, protocol)
        await press(pilot, "l")  # a question on the bottom rows: everything above stays
        first = next(at for at, row in enumerate(terminal.rows) if row.startswith("─ display"))
        _, covered = terminal.picture()
        assert not covered[first * terminal.cell[1] :].any()
        if protocol is Protocol.KITTY:
            assert covered[terminal.cell[1] : first * terminal.cell[1]].mean() > 0.95
        else:
            assert "▀▀" in "".join(terminal.rows[5:first])
        await press(pilot, "q")
        assert_shown(terminal, app, protocol)
        await press(pilot, "C")
        assert seen(terminal) == 0
        assert any("▄" in row for row in terminal.rows)
        await press(pilot, "C", "C", "C")
        assert_shown(terminal, app, protocol)
        await press(pilot, "C", "V", "q")
        assert not any("\x1b" in row or "_G" in row or "1337" in row for row in terminal.rows)
        await press(pilot, "C", "C", "C")
        terminal.resize(70, 20)
        await resize(pilot, (70, 20))
        await until(pilot, lambda: seen(terminal) > 70 * 15)
        assert_shown(terminal, app, protocol)
        await press(pilot, "q")
        assert seen(terminal) == 0
        await press(pilot, "v")
    assert protocol is not Protocol.KITTY or 0 < len(terminal.images) <= 8  # AskingDriver lets the terminal forget them


@pytest.mark.parametrize("protocol", list(Protocol))
async def test_two_pictures_and_a_map(
    protocol: Protocol, broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    terminal = PixelTerminal(*SIZE, {protocol})
    async with viewer_on(terminal, broken, monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "9", "enter", "tab")
        await until(pilot, lambda: "before | AFTER" in terminal.rows[0])
        assert seen(terminal) > 0.9 * PICTURE
        await press(pilot, "tab", "v", "U")
        await until(pilot, lambda: "UV map" in terminal.rows[0])
        assert_shown(terminal, app, protocol)


async def test_an_added_frame_is_called_so_over_the_picture(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    terminal = PixelTerminal(*SIZE, {Protocol.SIXEL})
    async with viewer_on(terminal, broken, monkeypatch, "number_sign", "1", "9", "enter", "v") as (_, pilot):
        await until(pilot, lambda: any("ADDED" in row for row in terminal.rows))
        assert seen(terminal) > 0.9 * PICTURE


async def test_no_colours_no_pixels(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = PixelTerminal(*SIZE, set(Protocol))
    monkeypatch.setenv("NO_COLOR", "1")
    app = app_on(broken, monkeypatch)
    app.driver_class = driver_on(terminal)
    async with app.run_test(headless=False, size=SIZE) as pilot:
        await press(pilot)
        before = terminal.received
        await press(pilot, "v")
        assert any("⣿" in row for row in terminal.rows)
        assert terminal.received == before


async def test_the_texture_page(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = PixelTerminal(*SIZE, {Protocol.KITTY})
    async with viewer_on(terminal, broken, monkeypatch, "q", "t") as (_, pilot):
        await until(pilot, lambda: seen(terminal) > 300)
        await press(pilot, "q")
        assert seen(terminal) == 0
