"""Compare: any two frames, and a source with its corrected folder."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from inspector.checks.base.inspect import FolderInspection, inspect_folder
from inspector.delivery.deliver import deliver
from inspector.delivery.plan import exact_choices, make_plan
from inspector.sequence.receipts import RECEIPT_NAME, corrected_files
from inspector.tui.compare_screen import CompareScreen
from tests.tui.looking import viewer
from tests.tui.screens import LARGE, MEDIUM, SMALL, assert_screen, press, resize, screen_text


def told(text: str, block: str) -> str:
    (line,) = [line for line in text.splitlines() if line[2:].startswith(block)]
    return line


async def test_screens(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, key="o") as (app, pilot):
        await press(pilot, "1")
        assert isinstance(app.screen, CompareScreen)
        for size in (SMALL, MEDIUM, LARGE):
            await resize(pilot, size)
            await press(pilot, "f")
            assert_screen(app, "compare")


async def test_with_a_marked_frame(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, key="k") as (app, pilot):
        await press(pilot, "down", "down", "o", "1")
        assert "against marked frame 8" in screen_text(app)
        assert "598 of 598 differ, first 0" in told(screen_text(app), "faces (f), UVs")
        await press(pilot, "comma", "comma")
        text = screen_text(app)
        assert "no vertex lies elsewhere" in text
        assert not [line for line in text.splitlines() if line.startswith("x ")]
        await press(pilot, "q")
        assert "*8 " in screen_text(app)


async def test_with_the_frame_before(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    """Frame 10 is frozen: an exact copy of 9 (demo.defects)."""
    async with viewer(broken, monkeypatch, frame=10, key="o") as (app, pilot):
        await press(pilot, "2")
        assert told(screen_text(app), "vertices (v)").startswith("=")
        await press(pilot, "home")
        assert "no frame before this one" in screen_text(app)


async def test_a_frame_that_cannot_be_read(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, frame=7, key="o") as (app, pilot):
        await press(pilot, "1")
        assert "this frame can't be read" in screen_text(app)
        await press(pilot, "full_stop", "full_stop", "o", "plus", "left", "q")
        assert ">     9 " in screen_text(app)


async def test_a_source_with_its_corrected_folder(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    inspection = inspect_folder(demo / "manta_broken")
    out = tmp_path / "fixed"
    deliver(inspection, make_plan(inspection, exact_choices(inspection)), out)
    async with viewer(inspection, monkeypatch, key="o") as (app, pilot):
        await press(pilot, "3", "ctrl+u", *"nowhere", "enter")
        assert "a folder that meshqc wrote" in screen_text(app)
        await press(pilot, "ctrl+u")
        app.screen._inputs[0].value = str(out)
        await press(pilot, "enter")
        text = screen_text(app)
        assert "against corrected in fixed" in text
        # Frame 8's UV indices are restored; nothing moved.
        assert told(text, "vertices (v)").startswith("=")
        assert told(text, "faces (f), UVs").startswith("x")


def test_a_receipt_leads_nowhere_else(tmp_path: Path) -> None:
    files = [
        {"path": "manta.0002.obj", "before": [{"path": "manta.0001.obj"}]},
        {"path": "../secret.obj", "before": [{"path": "manta.0002.obj"}]},
        {"path": "/etc/hostname", "before": [{"path": "manta.0003.obj"}]},
        {"path": "invented.obj", "before": []},
    ]
    (tmp_path / RECEIPT_NAME).write_text(json.dumps({"files": files}))
    assert corrected_files(tmp_path) == {"manta.0001.obj": tmp_path / "manta.0002.obj"}
    (tmp_path / RECEIPT_NAME).write_text("[3]")
    assert corrected_files(tmp_path) == {}
    assert corrected_files(tmp_path / "nowhere") == {}
