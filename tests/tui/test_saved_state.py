"""Tests of the state that is saved when the program ends."""

from __future__ import annotations

import json
import math
import shutil
import stat
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from inspector.delivery.choices import Choice
from inspector.errors import MeshqcError
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.names import Name
from inspector.picture.camera import Camera
from inspector.sequence.discovery.settings import Settings
from inspector.tui import run as run_module
from inspector.tui.app import MeshqcApp
from inspector.tui.columns import Arrangement
from inspector.tui.glyphs import UNICODE
from inspector.tui.pictures.render_modes import Look, Under
from inspector.tui.saved_state import FORMAT, SavedState, last_folder, load, outdated, save, state_file
from inspector.tui.view_state import Cameras, MapView, PictureView, Viewport, cameras_from_json, cameras_to_json
from tests.helpers.command import harmful
from tests.helpers.tui.looking import viewer
from tests.helpers.tui.screens import SMALL, app_on, cursor_frame, press, resize, screen_text, until
from tests.helpers.tui.world import harbour


@pytest.fixture
def own_state(tmp_path: Path) -> Path:
    """Return the path of the saved state. Source: XDG Base Directory Specification 0.8."""
    return tmp_path / "state" / "meshqc" / "state.json"


FULL = SavedState(
    "sub/manta.####.obj",
    (Fraction(3, 2), 1),
    Arrangement("warnings", "faces", True),
    4,
    Look.WIRES,
    {"manta.####.obj": [Fraction(7), Fraction(3)]},
    {
        "manta.####.obj": Cameras(
            PictureView(None, True, True, False, True, 12.0, "dots"),
            MapView(Viewport(0.25, -1.5, 3.0), Under.GRID, True, Name(b"man\xffta"), "sixths"),
        )
    },
    (Choice("scale", {"factor": "0.01"}), Choice("renumber", {}, "manta.####.obj", (Fraction(3),), False)),
    Settings(expected=(Fraction(1), Fraction(240)), size=1.8, reference=Fraction(7), rate=Fraction(24)),
)


def test_what_is_kept_comes_back(tmp_path: Path, own_state: Path) -> None:
    one, other = tmp_path / "one", tmp_path / "oth\udcffer"
    save(one, FULL)
    save(other, SavedState(panel=1))
    assert load(one) == FULL
    assert load(other) == SavedState(panel=1)
    assert load(tmp_path) == SavedState()
    assert stat.S_IMODE(own_state.parent.stat().st_mode) == 0o700
    assert [path.name for path in own_state.parent.iterdir()] == ["state.json"]


def test_the_last_folder_if_it_is_there(tmp_path: Path) -> None:
    assert last_folder() is None
    save(tmp_path, FULL)
    assert last_folder() == tmp_path
    save(tmp_path / "gone", FULL)
    assert last_folder() is None


def test_folders_left_long_ago_are_forgotten(tmp_path: Path) -> None:
    for number in range(60):
        save(tmp_path / str(number), FULL)
    assert load(tmp_path / "9") == SavedState()
    assert load(tmp_path / "10") == FULL


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
    assert load(Path("/shots")) == SavedState()
    save(Path("/shots"), FULL)
    assert load(Path("/shots")) == FULL


CAMERA = Camera(np.array([0.5, 1.0, 12.0]), np.array([0.0, 0.25, 0.0]), np.array([0.0, 1.0, 0.0]), near=0.01)


def with_sights() -> dict[str, Any]:
    sights = Cameras(PictureView(replace(CAMERA, parallel_height=3.0)), MapView(Viewport()))
    return json.loads(json.dumps(cameras_to_json(sights)))


def test_a_camera_comes_back_to_the_bit() -> None:
    camera = cameras_from_json(with_sights()).viewer.camera
    assert camera is not None
    assert camera.position.tolist() == CAMERA.position.tolist()
    assert camera.target.tolist() == CAMERA.target.tolist()
    assert camera.up.tolist() == CAMERA.up.tolist()
    assert (camera.near, camera.parallel_height, camera.field_of_view) == (0.01, 3.0, 30.0)


HUGE = 10**400
BAD_SIGHTS: list[tuple[str, str, Any]] = [
    ("viewer", "rate", bad) for bad in (0, -1, math.nan, math.inf, HUGE, "24", [], True)
]
BAD_SIGHTS += [("viewer", "parallel", bad) for bad in (1, None, "yes")]
BAD_SIGHTS += [("viewer", "camera", bad) for bad in (3, "x", [], {}, {"position": [0, 0, 0]})]
BAD_SIGHTS += [
    ("uv_map", "place", bad) for bad in ([], [0, 0], [0, 0, 0], [0, 0, -1], [0, math.nan, 1], [0, 0, 1e9], 3)
]
BAD_SIGHTS += [("uv_map", "under", "over the sea"), ("uv_map", "material", 3), ("uv_map", "compare", 0)]
BAD_CAMERA: list[tuple[str, Any]] = [
    *[(name, bad) for name in ("position", "target", "up") for bad in ([0, 0], [0, 0, math.inf], [0, 0, HUGE], "abc")],
    ("position", [0.0, 0.25, 0.0]),  # the position of the target
    ("up", [0, 0, 0]),
    *[("near", bad) for bad in (0, -1, math.nan, None)],
    *[("parallel_height", bad) for bad in (0, -1, math.inf, "3")],
]


@pytest.mark.parametrize(("part", "name", "value"), BAD_SIGHTS)
def test_cameras_that_no_version_wrote_are_not_taken(part: str, name: str, value: Any, own_state: Path) -> None:
    entry = with_sights()
    entry[part][name] = value
    assert kept_with({"manta.####.obj": entry}, own_state) == SavedState()


@pytest.mark.parametrize(("name", "value"), BAD_CAMERA)
def test_cameras_that_look_nowhere_are_not_taken(name: str, value: Any, own_state: Path) -> None:
    entry = with_sights()
    entry["viewer"]["camera"][name] = value
    assert kept_with({"manta.####.obj": entry}, own_state) == SavedState()


def kept_with(sights: object, own_state: Path) -> SavedState:
    save(Path("/shots"), FULL)
    document = json.loads(own_state.read_text())
    document["folders"]["/shots"]["cameras"] = sights
    own_state.write_text(json.dumps(document))
    return load(Path("/shots"))


def test_a_state_of_an_older_format_is_ignored_with_a_sentence(own_state: Path) -> None:
    save(Path("/shots"), FULL)
    assert not outdated()
    document = json.loads(own_state.read_text())
    own_state.write_text(json.dumps({**document, "format": 1}))
    assert load(Path("/shots")) == SavedState()
    assert "older version" in outdated()


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("frame", ["1e999999999", 0]),  # would take minutes to calculate
        ("frame", [math.inf, 0]),
        ("frame", ["1/0", 0]),
        ("frame", ["1", math.inf]),
        ("curves", "no such"),
        ("marks", {"manta.####.obj": ["1e999999999"]}),
        ("stated", {"frames": None, "size": None, "reference": "1e999999999", "rate": None}),
    ],
)
def test_numbers_that_no_version_wrote_are_not_taken(field: str, value: Any, own_state: Path) -> None:
    save(Path("/shots"), FULL)
    document = json.loads(own_state.read_text())
    document["folders"]["/shots"][field] = value
    own_state.write_text(json.dumps(document))
    assert load(Path("/shots")) == SavedState()


@pytest.mark.parametrize(("field", "value"), [("filter", "no such"), ("column", 3), ("reverse_", 1)])
def test_what_no_version_wrote_is_not_taken(field: str, value: int, own_state: Path) -> None:
    save(Path("/shots"), FULL)
    document = json.loads(own_state.read_text())
    document["folders"]["/shots"]["arrangement"][field] = value
    own_state.write_text(json.dumps(document))
    assert load(Path("/shots")) == SavedState()


def test_a_state_that_cannot_be_written_stops_nothing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    save(Path("/shots"), FULL)
    assert load(Path("/shots")) == SavedState()
    assert state_file().is_relative_to(tmp_path / "file")


async def test_the_view_comes_back(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot, "m", "number_sign", *"20", "enter", "s", "w", "d", "5", "q")
        assert "by worst" in screen_text(app)
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert cursor_frame(app) == "20"
        assert "by worst" in screen_text(app)
        await press(pilot, "d")
        assert "counts, frames" in screen_text(app)
        await press(pilot, "apostrophe")
        assert "frame 1 " in screen_text(app)


LOOKED = {
    "v": ("V", "8", "V", "0", "left", "up", "plus", "plus", "shift+right", "b", "h", "C", "S", "3", "l", "2"),
    "U": ("plus", "right", "up", "up", "l", "3", "b", "M", "2", "C"),
}


@pytest.mark.parametrize("key", LOOKED)
async def test_the_picture_comes_back(key: str, broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, key=key) as (app, pilot):
        first = screen_text(app)
        await press(pilot, *LOOKED[key])
        left = screen_text(app)
        assert left.splitlines()[0] != first.splitlines()[0]
        assert left.splitlines()[1:-4] != first.splitlines()[1:-4]
        await press(pilot, "q", key)
        assert screen_text(app) == left  # also within a single run
        await press(pilot, "q")
    async with viewer(broken, monkeypatch, key=key, look=None) as (app, _):
        assert screen_text(app) == left


FAR = [
    ("viewer", "camera", {"position": [0, 0, 9e99], "target": [0, 0, 0], "up": [0, 1, 0], "near": 1e-9}),
    *(
        pytest.param("viewer", "camera", camera, marks=pytest.mark.slow)
        for camera in (
            {"position": [9e99, 9e99, 9e99], "target": [9e99, 9e99, 0], "up": [0, 1, 0], "near": 9e99},
            {"position": [0, 0, 1e-99], "target": [0, 0, 0], "up": [0, 1, 0], "near": 1e-99},
            {"position": [0, 0, 9], "target": [0, 0, 0], "up": [0, 1e-99, 0], "near": 1e-150},
        )
    ),
    ("viewer", "rate", 1e99),
    ("uv_map", "place", [1e6, -1e6, 1e-6]),
    ("uv_map", "place", [0, 0, 1e6]),
    ("uv_map", "material", "\x1b[2J\u202e"),
]


@pytest.mark.parametrize(("part", "name", "value"), FAR)
async def test_cameras_that_show_nothing_break_nothing(
    part: str, name: str, value: Any, broken: FolderInspection, monkeypatch: pytest.MonkeyPatch, own_state: Path
) -> None:
    heights = (None, 1e-99, 9e99) if name == "camera" else (None,)
    for high in heights:
        entry = with_sights()
        entry[part][name] = {**value, "parallel_height": high} if name == "camera" else value
        save(broken.root, SavedState())
        document = json.loads(own_state.read_text())
        document["folders"][str(broken.root)]["cameras"] = {broken.inspections[0].sequence.key: entry}
        own_state.write_text(json.dumps(document))
        for key in ("v", "U"):
            async with viewer(broken, monkeypatch, key=key) as (app, pilot):
                assert not harmful(screen_text(app))
                await press(pilot, "plus", "left", "minus", "0", "0", "0")
                if name == "rate" and key == "v":
                    await press(pilot, "space", "space", "S", "q")
                assert app.is_running, app.fatal
                save(broken.root, app.session.saved())


async def test_the_sequence_comes_back(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot, "shift+tab", "down")
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await resize(pilot, SMALL)  # until the list has its rows
        assert "> kelp.####.obj" in screen_text(app)


async def test_the_staged_plan_comes_back(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = inspect_folder(demo / "manta_broken")
    steps = await stage_and_leave(broken, monkeypatch, "e")
    assert steps
    app = app_on(broken, monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert "your staged fixes are restored" in screen_text(app)
        assert [step.fix for step in app.session.staged.plan.steps] == steps
        await press(pilot, "r")  # reading again keeps staged fixes
        assert [step.fix for step in app.session.staged.plan.steps] == steps
        await press(pilot, "u")
        assert "undone: restoring the staged fixes" in screen_text(app)
        assert app.session.staged.choices == ()


async def stage_and_leave(inspection: FolderInspection, patch: pytest.MonkeyPatch, *keys: str) -> list[str]:
    app = app_on(inspection, patch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await press(pilot, *keys)
        await press(pilot, "q")
        assert "staged fixes are saved for next time" in screen_text(app)
        steps = [step.fix for step in app.session.staged.plan.steps]
        await pilot.press("1")
        return steps


async def test_a_staged_fix_that_nothing_knows_is_refused_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    inspection = harbour()
    app = app_on(inspection, monkeypatch)
    save(app.session.root, SavedState(choices=(Choice("no-such-fix"),)))
    app = app_on(inspection, monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert app.session.staged.choices == ()
        assert app.fatal == ""


async def test_a_folder_that_cannot_be_read_is_not_kept(tmp_path: Path) -> None:
    app = MeshqcApp(tmp_path / "nowhere", Settings(), UNICODE)
    await app.run_async(headless=True, size=SMALL)
    assert not state_file().exists()


def test_without_words_the_last_folder_opens_with_what_was_stated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(MeshqcError, match="no folder was given"):
        run_module.reopen()
    save(tmp_path, FULL)
    opened: list[tuple[Path, Settings]] = []
    monkeypatch.setattr(run_module, "run", lambda *words: opened.append(words) or 0)
    assert run_module.reopen() == 0
    ((folder, settings),) = opened
    assert MeshqcApp(folder, settings, UNICODE).session.root == tmp_path
    assert MeshqcApp(folder, settings, UNICODE).session.settings == FULL.stated


async def test_a_kept_reference_that_is_gone_is_dropped(demo: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(demo / "kelp_broken", tmp_path / "kelp"))
    save(folder, SavedState(stated=Settings(reference=Fraction(5), size=1.8)))
    (folder / "kelp_broken.0005.obj").unlink()
    app = MeshqcApp(folder, Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await until(pilot, lambda: app.session.inspection is not None)
        await press(pilot)
        text = " ".join(screen_text(app).split())
        assert "reference frame 5 doesn't exist, can't be read or is empty" in text
        assert "the reference frame that you chose last time is no longer used" in text
        assert (app.session.settings.reference, app.session.settings.size) == (None, 1.8)
        assert "reference 1" in screen_text(app).splitlines()[0]


async def test_a_folder_that_cannot_be_checked_is_not_called_sound(demo: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(demo / "kelp_broken", tmp_path / "kelp"))
    app = MeshqcApp(folder, Settings(reference=Fraction(50)), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await until(pilot, lambda: "reference frame 50 doesn't exist" in screen_text(app))
        assert screen_text(app).splitlines()[0].endswith("not checked")
