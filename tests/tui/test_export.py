"""Tests of the comparison of an export with the previous export, in the terminal UI."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from textual.widgets import Input

from inspector.delivery.choices import all_choices
from inspector.delivery.plan_file import plan_to_json
from inspector.delivery.planning import make_plan
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.tui.screens.export_screen import ExportScreen
from inspector.tui.workers.export_engine import export_before
from tests.helpers.tui.looking import viewer
from tests.helpers.tui.screens import press, screen_text


@pytest.fixture(scope="module")
def exports(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, FolderInspection]:
    """Return the folder of version 1 and the inspection of version 2, in which frame 3 is missing and frame 5 is
    frozen."""
    root = tmp_path_factory.mktemp("exports")
    before, after = root / "manta_v001", root / "manta_v002"
    before.mkdir()
    for path in sorted((demo / "manta").glob("manta.000[1-8].obj")):
        shutil.copy(path, before)
    for path in (demo / "manta").glob("*.[mp][tn][lg]"):
        shutil.copy(path, before)
    shutil.copytree(before, after)
    (after / "manta.0003.obj").unlink()
    shutil.copy(after / "manta.0004.obj", after / "manta.0005.obj")
    return before, inspect_folder(after)


async def test_what_changed_and_got_worse(
    exports: tuple[Path, FolderInspection], monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(exports[1], monkeypatch, key="X") as (app, pilot):
        assert "manta_v001" in screen_text(app), "the version before is suggested"
        await press(pilot, "enter")
        assert isinstance(app.screen, ExportScreen)
        text = screen_text(app)
        assert "compared with manta_v001" in text
        assert "missing: frame 3" in text
        assert "changed: frame 5" in text
        assert "new: error missing-frames" in " ".join(text.split())
        assert "verdict: worse than the previous export" in text
        await press(pilot, "F")
        assert "no fixes were planned or staged for the previous export" in screen_text(app)
        await press(pilot, "D")
        assert "no delivery rules to use" in screen_text(app)
        await press(pilot, "q")
        assert not isinstance(app.screen, ExportScreen)


async def test_a_path_can_be_typed_if_there_is_no_suggestion(
    exports: tuple[Path, FolderInspection], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Relative paths are relative to the folder that contains the open export."""
    first = inspect_folder(exports[0])
    for typed in (exports[1].root, exports[1].root.name):
        async with viewer(first, monkeypatch, key="X") as (app, pilot):
            assert app.screen.query_one(Input).value == ""
            await press(pilot, *str(typed), "enter")
            assert isinstance(app.screen, ExportScreen)
            assert "compared with manta_v002" in screen_text(app)


async def test_its_plan_and_rules_are_taken(
    exports: tuple[Path, FolderInspection], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = tmp_path / "manta_v001"
    shutil.copytree(exports[0], before)
    (before / "meshqc.toml").write_text('[checks]\nfrozen = "off"\n')
    plan = make_plan(exports[1], all_choices(exports[1]))
    (before / "plan.json").write_text(plan_to_json(plan))
    async with viewer(exports[1], monkeypatch, key="X") as (app, pilot):
        await press(pilot, "ctrl+u")
        app.screen.query_one(Input).value = str(before)
        await press(pilot, "enter")
        await press(pilot, "end")
        text = screen_text(app)
        assert "F stage the" in text
        assert "plan.json" in text
        assert "D check this export against the delivery" in text
        await press(pilot, "F")
        assert [one.fix for one in app.session.staged.choices] == [step.fix for step in plan.steps]
        await press(pilot, "D")
        assert app.session.settings.rules.file == before / "meshqc.toml"
        await press(pilot, "q", "u", "u")
        assert app.session.settings.rules.file is None
        assert app.session.staged.choices == ()


async def test_a_folder_without_a_sequence(
    exports: tuple[Path, FolderInspection], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(exports[1], monkeypatch, key="X") as (app, pilot):
        await press(pilot, "ctrl+u", *"nowhere", "enter")
        assert "not a folder" in screen_text(app)
        app.screen.query_one(Input).value = str(tmp_path)
        await press(pilot, "enter")
        assert "not compared: no sequence of numbered mesh files in that folder" in screen_text(app)


def test_the_version_before(tmp_path: Path) -> None:
    for name in ("kelp_v1", "kelp_v02", "kelp_v10", "kelp_v11", "jelly_v9", "kelp_v9_fixed"):
        (tmp_path / name).mkdir()
    (tmp_path / "kelp_v8").write_bytes(b"a file")
    assert export_before(tmp_path / "kelp_v11") == tmp_path / "kelp_v10"
    assert export_before(tmp_path / "kelp_v10") == tmp_path / "kelp_v02"
    assert export_before(tmp_path / "kelp_v1") is None
    assert export_before(tmp_path / "kelp") is None
