"""Tests of screens with 40 columns and 10 rows."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from inspector.checks.base.finding import Severity
from inspector.inspection.inspection import FolderInspection
from inspector.sequence.discovery.settings import Settings
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import UNICODE
from tests.helpers.tui.screens import app_on, press, screen_text, until
from tests.helpers.tui.world import finding, folder, inspected, sequence

TINY = 40, 10


@pytest.mark.parametrize(
    ("keys", "shown"),
    [
        (("number_sign", "9", "enter", "v"), lambda rows: rows[0].endswith("before, textured ─")),
        (("number_sign", "9", "enter", "v", "v"), lambda rows: "AFTER, textured" in rows[0]),
        (("e", "p"), lambda rows: rows[3] == "↓ lossless  Shift UV indices back"),
        (("colon", "c", "o"), lambda rows: any(row.startswith("> y ") for row in rows) and ": co" in rows[-2]),
    ],
)
async def test_what_has_the_space(
    keys: tuple[str, ...],
    shown: Callable[[list[str]], bool],
    broken: FolderInspection,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    app = app_on(broken, monkeypatch)
    async with app.run_test(size=TINY, notifications=True) as pilot:
        await press(pilot)
        for key in keys:
            await press(pilot, key)
        await until(pilot, lambda: shown(screen_text(app).splitlines()), 20.0)


async def test_an_empty_folder_is_explained(tmp_path: Path) -> None:
    app = MeshqcApp(tmp_path, Settings(), UNICODE)
    async with app.run_test(size=TINY, notifications=True) as pilot:
        await until(pilot, lambda: "o open another folder" in screen_text(app))
        assert "No numbered mesh files here" in screen_text(app)
        assert "L wait for an export into this folder" in screen_text(app)
        await until(pilot, lambda: "enter: more" not in screen_text(app))


async def test_what_an_empty_folder_left_out_is_read_in_full(tmp_path: Path) -> None:
    for name in ("one", "two", "three"):
        (tmp_path / f"{name}.obj").write_text("v 0 0 0\n")
    app = MeshqcApp(tmp_path, Settings(), UNICODE)
    async with app.run_test(size=TINY, notifications=True) as pilot:
        await until(pilot, lambda: "enter: more" in screen_text(app))
        await press(pilot, "enter", "G")
        assert "─ nothing to inspect ─" in screen_text(app)
        assert "r read the folder again" in screen_text(app)


@pytest.mark.parametrize("width", [40, 80, 120])
async def test_long_names_keep_their_numbers(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The common start of all names is shown above the table, so a row must show the number and the file extension."""
    shot = sequence(b"a_very_long_name_of_a_creature_in_a_shot_v003", range(1, 25))
    app = app_on(folder(inspected(shot, [finding("frozen", Severity.WARNING, 2)])), monkeypatch)
    async with app.run_test(size=(width, 24), notifications=True) as pilot:
        await press(pilot)
        (row,) = (row for row in screen_text(app).splitlines() if row.startswith("      2 "))
        assert width == 40 or row.split()[1] == "…0002.obj"
        assert row.endswith("W Frozen frame")
