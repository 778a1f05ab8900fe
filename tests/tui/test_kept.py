"""What survives the end of the program: last folder, view, staged plan."""

from __future__ import annotations

import json
import stat
from fractions import Fraction
from pathlib import Path

import pytest

from inspector.checks.base.inspect import FolderInspection, inspect_folder
from inspector.delivery.model import Choice
from inspector.errors import MeshqcError
from inspector.sequence.settings import Settings
from inspector.tui import app as app_module
from inspector.tui.app import MeshqcApp
from inspector.tui.columns import Arrangement
from inspector.tui.kept import FORMAT, Kept, keep, kept_of, last_folder, state_file
from inspector.tui.looks import Look
from tests.tui.screens import SMALL, app_on, press, screen_text
from tests.tui.world import harbour


@pytest.fixture
def own_state(tmp_path: Path) -> Path:
    """XDG base directory specification 0.8."""
    return tmp_path / "state" / "meshqc" / "state.json"


FULL = Kept(
    "sub/manta.####.obj",
    (Fraction(3, 2), 1),
    Arrangement(2, 3, True),
    4,
    Look.WIRES,
    {"manta.####.obj": [Fraction(7), Fraction(3)]},
    (Choice("scale", {"factor": "0.01"}), Choice("renumber", {}, "manta.####.obj", (Fraction(3),), False)),
    Settings(expected=(Fraction(1), Fraction(240)), size=1.8, reference=Fraction(7), rate=Fraction(24)),
)


def test_what_is_kept_comes_back(tmp_path: Path, own_state: Path) -> None:
    one, other = tmp_path / "one", tmp_path / "oth\udcffer"
    keep(one, FULL)
    keep(other, Kept(panel=1))
    assert kept_of(one) == FULL
    assert kept_of(other) == Kept(panel=1)
    assert kept_of(tmp_path) == Kept()
    assert stat.S_IMODE(own_state.parent.stat().st_mode) == 0o700
    assert [path.name for path in own_state.parent.iterdir()] == ["state.json"]


def test_the_last_folder_if_it_is_there(tmp_path: Path) -> None:
    assert last_folder() is None
    keep(tmp_path, FULL)
    assert last_folder() == tmp_path
    keep(tmp_path / "gone", FULL)
    assert last_folder() is None


def test_folders_left_long_ago_are_forgotten(tmp_path: Path) -> None:
    for number in range(60):
        keep(tmp_path / str(number), FULL)
    assert kept_of(tmp_path / "9") == Kept()
    assert kept_of(tmp_path / "10") == FULL


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "null",
        "{",
        '{"format": 99}',
        "[" * 100_000,
        json.dumps({"format": FORMAT, "last": 3, "folders": {"/shots": {"sequence": 1}}}),
        json.dumps({"format": FORMAT, "last": "\x00", "folders": []}),
    ],
)
def test_a_state_that_is_none_is_as_good_as_none(text: str, own_state: Path) -> None:
    own_state.parent.mkdir(parents=True)
    own_state.write_text(text)
    assert last_folder() is None
    assert kept_of(Path("/shots")) == Kept()
    keep(Path("/shots"), FULL)
    assert kept_of(Path("/shots")) == FULL


@pytest.mark.parametrize(("field", "value"), [("filter", 9), ("column", -1), ("reverse_", 1)])
def test_what_no_version_wrote_is_not_taken(field: str, value: int, own_state: Path) -> None:
    keep(Path("/shots"), FULL)
    document = json.loads(own_state.read_text())
    document["folders"]["/shots"]["arrangement"][field] = value
    own_state.write_text(json.dumps(document))
    assert kept_of(Path("/shots")) == Kept()


def test_a_state_that_cannot_be_written_stops_nothing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    keep(Path("/shots"), FULL)
    assert kept_of(Path("/shots")) == Kept()
    assert state_file().is_relative_to(tmp_path / "file")


async def test_the_view_comes_back(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot, "k", "g", *"20", "enter", "s", "0", "d", "5", "q")
        assert "by worst" in screen_text(app)
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert ">    20 " in screen_text(app)
        assert "by worst" in screen_text(app)
        await press(pilot, "d")
        assert "counts, frames" in screen_text(app)
        await press(pilot, "j")
        assert "frame 1 " in screen_text(app)


async def test_the_sequence_comes_back(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot, "shift+tab", "down")
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert "> kelp.####.obj" in screen_text(app)


async def test_the_staged_plan_comes_back(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = inspect_folder(demo / "manta_broken")
    steps = await stage_and_leave(broken, monkeypatch, "e")
    assert steps
    app = app_on(broken, monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert "staged as you left it" in screen_text(app)
        assert [step.fix for step in app.session.plan.steps] == steps
        await press(pilot, "a")  # reading anew begins with nothing, as ever
        assert app.session.plan is None


async def stage_and_leave(inspection: FolderInspection, patch: pytest.MonkeyPatch, *keys: str) -> list[str]:
    app = app_on(inspection, patch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await press(pilot, *keys)
        await press(pilot, "q")
        assert "what is staged is kept for the next time" in screen_text(app)
        steps = [step.fix for step in app.session.plan.steps]
        await pilot.press("1")
        return steps


async def test_a_staged_fix_that_nothing_knows_is_refused_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    inspection = harbour()
    app = app_on(inspection, monkeypatch)
    keep(app.session.root, Kept(choices=(Choice("no-such-fix"),)))
    app = app_on(inspection, monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert app.session.choices == ()
        assert app.fatal == ""


async def test_a_folder_that_cannot_be_read_is_not_kept(tmp_path: Path) -> None:
    app = MeshqcApp(tmp_path / "nowhere", Settings(), app_module.UNICODE)
    await app.run_async(headless=True, size=SMALL)
    assert not state_file().exists()


def test_without_words_the_last_folder_opens_with_what_was_stated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(MeshqcError, match="a folder is missing"):
        app_module.reopen()
    keep(tmp_path, FULL)
    opened: list[object] = []
    monkeypatch.setattr(app_module, "run", lambda *words: opened.append(words) or 0)
    assert app_module.reopen() == 0
    assert opened == [(tmp_path, FULL.stated)]
