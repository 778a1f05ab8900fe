"""Tests of the viewer."""

from __future__ import annotations

import os
import time
from pathlib import Path
from threading import Thread

import numpy as np
import pytest
from textual.events import CursorPosition, Key

from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.picture.canvas import blank
from inspector.picture.png import png_bytes
from inspector.report.frame_rows import SequenceView
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import ASCII
from inspector.tui.pictures import flash_watch, frame_store
from inspector.tui.pictures import painter as painter_module
from inspector.tui.pictures.frame_store import FrameStore
from inspector.tui.pictures.painter import Painted, Painter
from inspector.tui.pictures.render_modes import Look
from inspector.tui.pictures.scene import Scene
from inspector.tui.screens.viewer_screen import ViewerScreen
from inspector.tui.workers import engine
from inspector.tui.workers.messages import Checked, Read
from tests.helpers.tui.looking import picture, viewer, with_findings
from tests.helpers.tui.screens import SMALL, app_on, assert_screen, press, resize, screen_text, until
from tests.helpers.tui.world import view_of

SCREENS: dict[str, tuple[str, ...]] = {
    "viewer": (),
    "viewer-wires": ("l", "2", "x"),
    "viewer-reference": ("b", "V", "7"),
}


def shown(app: MeshqcApp) -> ViewerScreen:
    assert isinstance(app.screen, ViewerScreen)
    return app.screen


@pytest.mark.parametrize("name", SCREENS)
async def test_screen(name: str, broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch) as (app, pilot):
        await press(pilot, *SCREENS[name])
        assert_screen(app, name)


async def test_letters_where_there_is_no_unicode(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, glyphs=ASCII) as (app, pilot):
        assert_screen(app, "viewer-ascii")
        for look in "12345":
            await press(pilot, "l", look)
            assert screen_text(app).isascii()


def subject(app: MeshqcApp) -> str:
    rows = picture(app).splitlines()
    return "\n".join([*rows[:-6], *(" " * 12 + row[12:] for row in rows[-6:-1])])


@pytest.mark.parametrize("colours", [{"TERM": "xterm"}, {"TERM": "xterm-256color"}, {"COLORTERM": "truecolor"}])
async def test_blocks_where_there_are_colours(
    colours: dict[str, str], broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "environ", {name: value for name, value in os.environ.items() if name != "NO_COLOR"})
    for name, value in colours.items():
        os.environ[name] = value
    app = app_on(broken, monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await press(pilot, "number_sign", "8", "enter", "v")
        quarters = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"
        drawn = set(subject(app))
        assert drawn <= set(quarters + "\n")
        assert (drawn <= set(" ▀\n")) is (colours == {"TERM": "xterm"})
        if colours != {"TERM": "xterm"}:
            await press(pilot, "C")
            assert any(0x1FB00 <= ord(letter) < 0x1FB3C for letter in picture(app))
        await press(pilot, "C")
        assert any(0x2800 < ord(letter) < 0x2900 for letter in picture(app))


async def test_the_frame_and_its_finding_come_along_and_go_back(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch) as (app, pilot):
        assert "frame 8 " in screen_text(app)
        assert "all 598 faces" in screen_text(app)
        await press(pilot, "full_stop", "full_stop")
        assert "frame 10 " in screen_text(app)
        await press(pilot, "comma", "pagedown")
        assert "frame 19 " in screen_text(app)
        await press(pilot, "home")
        assert "frame 1 " in screen_text(app)
        await press(pilot, "comma")
        assert "frame 24 " in screen_text(app)
        await press(pilot, "N")
        left_at = shown(app).row
        await press(pilot, "q")
        assert app.screen.table.frame_row == left_at  # type: ignore[attr-defined]


@pytest.mark.parametrize("key", ["v", "U"])
async def test_what_is_checked_while_one_looks_is_taken_up(
    key: str, broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    none = with_findings(broken)
    async with viewer(none, monkeypatch, key=key) as (app, pilot):
        assert "E" not in screen_text(app).splitlines()[-2]
        now = with_findings(broken, "uv-mismatch")
        app.post_message(Read(tuple(SequenceView(one.sequence) for one in now.inspections), "reading"))
        await press(pilot, "plus")
        app.post_message(Checked(now, engine.views_of(now)))
        await press(pilot, "full_stop", "comma")
        assert "frame 8 " in screen_text(app)
        assert "E" in screen_text(app).splitlines()[-2]
        assert key == "U" or "all 598 faces" in screen_text(app)
        await press(pilot, "q")
        assert app.screen.table.frame_row == 7  # type: ignore[attr-defined]


async def test_every_key_of_the_camera_changes_the_picture_and_fit_brings_it_back(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch) as (app, pilot):
        seen = {picture(app)}
        for key in ("left", "up", "right", "shift+left", "shift+up", "plus", "plus", "minus"):
            await press(pilot, key)
            assert picture(app) not in seen or key == "minus", key
            seen.add(picture(app))
        await press(pilot, "V", "3")
        front = picture(app)
        await press(pilot, "plus", "shift+right", "P", "up", "P", "V", "3")
        assert picture(app) == front
        await press(pilot, "plus", "0")
        assert picture(app) == front
        await press(pilot, "0")
        assert picture(app) != front  # the whole sequence, which includes the later part of the swim
        await press(pilot, "0")
        assert picture(app) == front


async def test_where_nothing_is_in_view_it_is_said(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, frame=2) as (app, pilot):
        await press(pilot, *["shift+right"] * 40)
        assert not subject(app).strip()
        assert "no part of the frame is in view (press 0 to fit)" in screen_text(app)
        await press(pilot, "0")
        assert "no part of the frame is in view" not in screen_text(app)


async def test_arrows_turn_or_move(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch) as (app, pilot):
        before = shown(app).how_viewed.camera
        await press(pilot, "left")
        turned = shown(app).how_viewed.camera
        await press(pilot, "P", "left")
        moved = shown(app).how_viewed.camera
        assert before is not None
        assert turned is not None
        assert moved is not None
        assert np.array_equal(turned.target, before.target)
        assert not np.array_equal(moved.target, turned.target)
        assert "arrows move" in screen_text(app)


async def test_straight_at_what_is_marked(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch) as (app, pilot):
        before = picture(app)
        await press(pilot, "V", "9")
        assert picture(app) != before
        await press(pilot, "home", "V", "9")
        assert "no finding is marked on this frame" in screen_text(app)


async def test_looks(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch) as (app, pilot):
        await press(pilot, "h")
        seen = set()
        for number, look in enumerate(Look, 1):
            await press(pilot, "l", str(number))
            assert f" {look.value} ─" in screen_text(app)
            seen.add(picture(app))
        assert len(seen) == len(Look)


def flashing_folder(root: Path) -> Path:
    """Write frames in which a leaf alternates between filling the picture and being too small to be visible. Return
    their folder."""
    folder = root / "flash"
    folder.mkdir()
    for number in range(1, 25):
        size = 1.0 if number % 2 else 0.001
        corners = [f"v {x * size} {y * size} 0" for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        (folder / f"kelp.{number:04}.obj").write_text("\n".join([*corners, "f 1 2 3 4", ""]))
    return folder


async def test_playing_goes_on_at_its_rate_and_stops(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    async with viewer(broken, monkeypatch, frame=10) as (app, pilot):
        await press(pilot, "S", "2", "space")
        assert "playing at 8 fps" in screen_text(app)
        await pilot.pause(0.6)
        assert shown(app).row > 9
        await press(pilot, "space")
        stopped = shown(app).row
        await pilot.pause(0.3)
        assert shown(app).row == stopped
        assert "playing" not in screen_text(app)


async def test_what_plays_stays_in_the_picture(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The manta swims out of a view that fits frame 1. When playback starts, the view changes to show all frames,
    unless the user has already chosen a view."""
    async with viewer(inspect_folder(demo / "manta"), monkeypatch, frame=1) as (app, pilot):
        width, height = shown(app).cells.pixels(shown(app).pane.size.width, shown(app).pane.size.height)
        boxes = np.array([facts.box for facts in shown(app).view.facts]).reshape(-1, 3)

        def inside() -> bool:
            camera = shown(app).how_viewed.camera
            assert camera is not None
            x, y, _ = camera.project(boxes, width, height).T
            return bool(((x >= 0) & (x <= width) & (y >= 0) & (y <= height)).all())

        assert not inside()
        await press(pilot, "space")
        assert shown(app).playing
        assert inside()
        await press(pilot, "space", "left", "0", "plus")
        by_hand = shown(app).how_viewed.camera
        await press(pilot, "space", "space")
        assert shown(app).how_viewed.camera is by_hand
        assert not inside()


async def test_playing_before_there_is_a_first_picture(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Over a slow link, two keys may arrive together."""
    async with viewer(broken, monkeypatch, key="m") as (app, pilot):
        app.post_message(Key("v", "v"))
        app.post_message(Key("space", " "))
        await until(pilot, lambda: isinstance(app.screen, ViewerScreen) and app.screen.playing)
        assert app.is_running, app.fatal
        await press(pilot, "space")


async def test_a_larger_picture_is_filled_again_unless_the_camera_was_moved(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch, frame=8) as (app, pilot):
        await until(pilot, lambda: shown(app).how_viewed.camera is not None)

        def distance() -> float:
            camera = shown(app).how_viewed.camera
            assert camera is not None
            return camera.distance

        whole = distance()
        await press(pilot, "tab")
        await until(pilot, lambda: distance() > 1.2 * whole)
        await press(pilot, "v")
        assert distance() == pytest.approx(whole, rel=0.1)
        await resize(pilot, (40, 24))
        await until(pilot, lambda: distance() > 1.2 * whole)
        await resize(pilot, (80, 24))
        assert distance() == pytest.approx(whole, rel=0.1)
        await press(pilot, "minus")
        by_hand = distance()
        await press(pilot, "tab")
        await press(pilot, "v")
        assert distance() == by_hand


async def test_frames_with_findings_say_so_while_it_plays(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch, frame=2) as (app, pilot):
        assert "no finding on this frame" in screen_text(app)
        shown(app).go_to_row(10, moving=True, choose=False)
        await press(pilot)
        assert app.session.finding is None
        assert "1 finding on this frame" in screen_text(app)


async def test_a_caution_before_what_flashes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(flash_watch, "FLASH_LOOK", 30.0)  # on any machine, however busy
    inspection = inspect_folder(flashing_folder(tmp_path))
    async with viewer(inspection, monkeypatch, frame=1) as (app, pilot):
        await press(pilot, "V", "3", "space")
        assert "flashing: " in screen_text(app)
        await press(pilot, "1")
        assert not shown(app).playing
        await press(pilot, "space")
        await press(pilot, "2")
        assert "playing at 2 fps" in screen_text(app)


async def test_a_caution_before_what_flashes_in_red(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The red and the green have the same relative luminance, 0.21, so there is a red flash but no general flash."""
    monkeypatch.setattr(flash_watch, "FLASH_LOOK", 30.0)  # on any machine, however busy
    colours = {"coral": (255, 0, 0), "kelp": (0, 148, 0)}
    for name, colour in colours.items():
        (tmp_path / f"{name}.png").write_bytes(png_bytes(blank(4, 4, colour)))
    library = "".join(f"newmtl {name}\nmap_Kd {name}.png\n" for name in colours)
    (tmp_path / "skin.mtl").write_text(library)
    corners = [f"v {x} {y} 0\nvt {x} {y}" for x, y in ((0, 0), (1, 0), (1, 1), (0, 1))]
    for number in range(1, 25):
        words = ["mtllib skin.mtl", *corners, f"usemtl {list(colours)[number % 2]}", "f 1/1 2/2 3/3 4/4", ""]
        (tmp_path / f"jelly.{number:04}.obj").write_text("\n".join(words))
    async with viewer(inspect_folder(tmp_path), monkeypatch, frame=1) as (app, pilot):
        await press(pilot, "V", "3", "l", "4", "space")
        assert "flashing: saturated red appears" in screen_text(app)
        await press(pilot, "1", "l", "1", "space")
        assert shown(app).playing  # all frames look the same when shaded


async def test_what_the_look_ahead_missed_stops_the_playing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(flash_watch, "FLASH_LOOK", -1.0)
    inspection = inspect_folder(flashing_folder(tmp_path))
    async with viewer(inspection, monkeypatch, frame=1) as (app, pilot):
        await press(pilot, "V", "3", "space")
        await pilot.pause(2.0)
        assert "flashing: " in screen_text(app)


async def test_calm_plays_nothing_and_draws_nothing_coarse(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch) as (app, pilot):
        app.session.calm = True
        monkeypatch.setattr(painter_module, "PICTURE_SECONDS", -1.0)
        full: list[int] = []
        paint = Scene.paint
        monkeypatch.setattr(Scene, "paint", lambda scene, coarse: full.append(coarse) or paint(scene, coarse))
        await press(pilot, "left", "full_stop", "space")
        assert not shown(app).playing
        assert "playback is off (--calm)" in screen_text(app)
        await press(pilot, "full_stop")
        assert "shaded, calm" in screen_text(app)
        assert set(full) == {1}


async def test_over_a_slow_link_pictures_wait_and_only_the_newest_is_sent(
    broken: FolderInspection, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with viewer(broken, monkeypatch) as (app, pilot):
        asked: list[str] = []
        app.session.link.connect(asked.append)
        await press(pilot, "left")
        app.post_message(CursorPosition(0, 0))
        for _ in range(12):  # more than the maximum on the way, and none of them is answered
            await pilot.press("left")
            await pilot.pause(0.05)
        before, taken = picture(app), len(asked)
        await pilot.press("left", "left", "left")
        await pilot.pause(0.1)
        assert len(asked) == taken
        assert picture(app) == before
        assert shown(app).painter.hurried
        for _ in asked:
            app.post_message(CursorPosition(0, 0))
        await pilot.pause(0.1)
        assert len(asked) > taken
        assert picture(app) != before


ODD = {
    "points only": "v 0 0 0\nv 1 1 1\n",
    "no number at all": "v nan nan nan\nv x 1 1\nf 1 2 2\n",
    "one vertex": "v 0 0 0\nf 1 1 1\n",
    "numbers beyond all bounds": "v 0 0 0\nv 1e300 0 0\nv 0 1e300 1e300\nvt 0 0\nvt nan 1e300\nvt 1 1\nf 1/1 2/2 3/3\n",
    "a face of two": "v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1e30 0\nvt 1 1\nf 1/1 2/2 3/3\nf 1 2\n",
    "no frame": "garbage",
    "nothing": "",
    "UVs far away": "v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 5000 7000\nvt 5001 7000\nvt 5000 7001\nf 1/1 2/2 3/3\n",
}
VIEWER_KEYS = (*"l2l4l5bV3V9V000", "left", "plus", "minus", "V", "1")
UV_KEYS = ("l", "3", "b", "0", "0", "plus", "right", "l", "2", "minus", "l", "1")


@pytest.mark.parametrize(("key", "walk"), [("v", VIEWER_KEYS), ("U", UV_KEYS)])
async def test_odd_frames_are_drawn_or_told_of(
    key: str, walk: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number, text in enumerate(ODD.values(), 1):
        (tmp_path / f"kelp.{number:04}.obj").write_text(text)
    async with viewer(inspect_folder(tmp_path), monkeypatch, frame=1, key=key) as (app, pilot):
        for name in ODD:
            await press(pilot, *walk)
            assert app.is_running, (name, app.fatal)
            await press(pilot, "full_stop")
        await press(pilot, "end", "comma", "comma")
        assert "nothing to draw: this frame can't be read" in screen_text(app)


def test_memory_is_bounded(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    view = view_of(broken.inspections[0])
    store = FrameStore(view)
    store.frame(0)
    limit = 3 * store.bytes
    monkeypatch.setattr(frame_store, "VIEWER_BYTES", limit)
    readable = [at for at, facts in enumerate(view.facts) if facts.readable]
    for at in readable:
        assert store.frame(at).frame.data == b""
        assert store.bytes <= limit + sum(store.frame(at).sizes.values())
    assert store.at_hand(readable[-1]) is store.frame(readable[-1])
    assert store.at_hand(readable[1]) is None


def test_what_frames_share_takes_no_more_room(broken: FolderInspection) -> None:
    """Frames 1 and 2 of the demo's broken manta differ only in positions and normals."""
    store = FrameStore(view_of(broken.inspections[0]))
    first = store.frame(0)
    alone = store.bytes
    second = store.frame(1)
    assert second.frame.uvs is first.frame.uvs
    own = second.frame.positions.nbytes + second.frame.normals.nbytes
    assert alone + own <= store.bytes < alone + own + 1000 * len(second.frame.blocks)


class Order:
    def __init__(self, log: list[tuple[str, int]], name: str, moving: bool) -> None:
        self.log, self.name, self.moving = log, name, moving

    def paint(self, coarseness: int) -> Painted:
        self.log.append((self.name, coarseness))
        return Painted(self, np.zeros((2, 2, 3), np.uint8), [])


def test_only_the_newest_picture_is_made() -> None:
    log: list[tuple[str, int]] = []
    waiting = []
    painter = Painter(lambda _: None, waiting.append)
    for name in "abc":
        painter.ask(Order(log, name, moving=True))
    assert len(waiting) == 1
    waiting[0]()
    assert log == [("c", 1)]
    assert not painter.busy


def test_coarse_while_it_moves_and_full_when_it_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(painter_module, "PICTURE_SECONDS", -1.0)
    monkeypatch.setattr(painter_module, "STILL_SECONDS", 0.01)
    log: list[tuple[str, int]] = []
    painter = Painter(lambda _: None, lambda work: work())
    painter.ask(Order(log, "still", moving=False))
    painter.ask(Order(log, "moving", moving=True))
    assert log == [("still", 1), ("moving", painter_module.COARSENESS), ("moving", 1)]


def test_a_picture_that_may_come_another_is_not_waited_for() -> None:
    """After a coarse picture, the painter waits a moment before it draws the same picture in full. A request for
    another picture ends the wait."""
    log: list[tuple[str, int]] = []
    painter = Painter(lambda _: None, lambda work: Thread(target=work, daemon=True).start())
    painter.hurried = True
    painter.ask(Order(log, "a", moving=True))
    end = time.monotonic() + 10.0
    while painter.busy or not log:
        assert time.monotonic() < end
    assert log == [("a", painter_module.COARSENESS)]
    painter.ask(Order(log, "b", moving=False))
    while len(log) < 2:
        assert time.monotonic() < end
    assert log[1] == ("b", 1)
