"""Tests of watching an export."""

from __future__ import annotations

import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from textual.pilot import Pilot

from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.registry import all_checks
from inspector.inspection.arrivals import Arrival
from inspector.names import Name
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run.watch import watch
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import UNICODE
from inspector.tui.terminal import title_sequence
from inspector.tui.workers import engine, live_engine
from inspector.tui.workers.messages import Alarm, Read
from tests.helpers.command import harmful
from tests.helpers.tui.screens import SMALL, assert_screen, press, screen_text
from tests.helpers.tui.world import facts_of, finding, harbour, sequence

PATIENCE = 30.0  # maximum number of seconds that a busy machine may take


@pytest.fixture(autouse=True)
def quick_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspector.sequence.run.watch.WATCH_SECONDS", (0.05, 0.05))
    monkeypatch.setattr("inspector.inspection.arrivals.WATCH_SURE_SECONDS", 0.1)


@pytest.fixture
def export(demo: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "export"
    shutil.copytree(demo / "manta/textures", folder / "textures")
    shutil.copy(demo / "manta/manta.mtl", folder)
    return folder


def write(demo: Path, folder: Path, number: int, *, uvs: bool = True) -> None:
    lines = (demo / f"manta/manta.{number:04}.obj").read_bytes().splitlines(keepends=True)
    kept = lines if uvs else [_without_uv(line) for line in lines if not line.startswith(b"vt ")]
    (folder / f"manta.{number:04}.obj").write_bytes(b"".join(kept))


def _without_uv(line: bytes) -> bytes:
    if not line.startswith(b"f "):
        return line
    corners = [corner.split(b"/") for corner in line.split()[1:]]
    return b"f " + b" ".join(b"//".join((one[0], one[2])) for one in corners) + b"\n"


@asynccontextmanager
async def watching(folder: Path, patch: pytest.MonkeyPatch) -> AsyncIterator[tuple[MeshqcApp, Pilot[int], list[str]]]:
    """Open the app on a folder that it watches. Yield the app, its pilot, and the bells and titles that it sends."""
    app = MeshqcApp(folder, Settings(), UNICODE, live=True)
    told: list[str] = []
    patch.setattr(app, "bell", lambda: told.append("bell"))
    patch.setattr(app, "set_title", told.append)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        yield app, pilot, told


async def until(app: MeshqcApp, pilot: Pilot[int], words: str) -> str:
    for _ in range(int(PATIENCE / 0.02)):
        if words in (text := screen_text(app)):
            return text
        await pilot.pause(0.02)
    raise AssertionError(f"never seen: {words}\n{screen_text(app)}")


async def test_frames_come_and_a_bad_one_raises_the_alarm(
    demo: Path, export: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with watching(export, monkeypatch) as (app, pilot, told):
        await until(app, pilot, "live: no frame yet")
        write(demo, export, 1)
        await until(app, pilot, "live: 1 frame  L: end")
        write(demo, export, 2)
        text = await until(app, pilot, "live: 2 frames  L: end")
        assert ">     2 " in text  # the cursor moves to the newest frame
        assert "nothing found on this frame so far" in text
        assert "bell" not in told
        write(demo, export, 3, uvs=False)
        text = await until(app, pilot, "reference 1  E ALARM frame 3: No UVs  live: 3 frames  L: end\n")
        assert "fixes: offered when you stop watching" in text
        for key in ("1", "e", "w"):
            await pilot.press(key)
            await until(app, pilot, "fixes are offered when you stop watching the export (L)")
        await pilot.press("z")  # bound to nothing: the last message disappears
        write(demo, export, 4, uvs=False)
        await until(app, pilot, "4 frames")
        await pilot.pause(0.4)
        assert told.count("bell") == 1
        assert told[-1] == "meshqc: E frame 3: No UVs, manta.0003.obj"
        await pilot.press("N")
        assert ">     3 " in await until(app, pilot, "E ALARM")
        write(demo, export, 5)
        assert ">     3 " in await until(app, pilot, "5 frames")  # a cursor that the user moved stays in place
        await pilot.press("L")
        await until(app, pilot, " 1 [ ] ")  # fixes are offered
        assert "5 files" in screen_text(app)
        assert app.session.inspection is not None
        assert not app.session.status.live
        assert told[-1] == "meshqc"
        await press(pilot, "e")
        assert "staged" in screen_text(app) or "no finding has a lossless fix" in screen_text(app)


def arrival(number: int, *errors: Finding) -> Arrival:
    facts = facts_of(sequence(b"manta", [number]))[0]
    return Arrival(Name(b"manta.%04d.obj" % number), facts, errors, True)


def test_each_cause_rings_once_and_the_newest_is_named() -> None:
    alarms = live_engine.Alarms()
    library, uvs = finding("library-missing", Severity.ERROR, *range(1, 31)), finding("no-uvs", Severity.ERROR, 30)
    assert alarms.words(arrival(1, finding("library-missing", Severity.ERROR, 1))).startswith("frame 1: ")
    assert not alarms.words(arrival(2, finding("library-missing", Severity.ERROR, 1, 2)))
    assert alarms.words(arrival(30, library, uvs)) == "frame 30: No UVs  manta.0030.obj"
    assert not alarms.words(arrival(31, library, uvs))
    assert live_engine.Alarms().words(arrival(30, library, uvs)) == "frame 30: No UVs  manta.0030.obj"


async def test_screens(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = harbour()

    def came(_root: object, _settings: object, _known: object, post: engine.Post, *_: object) -> None:
        post(Read(engine.views_of(whole), "live: 35 frames  L: end  1 being written"))
        post(Alarm(live_engine.Alarms().words(arrival(8, finding("uv-mismatch", Severity.ERROR, 8)))))

    monkeypatch.setattr(live_engine, "watch_and_check", came)
    app = MeshqcApp(whole.root, Settings(), UNICODE, live=True)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)  # the frames are there before the key
        await press(pilot, "n")
        assert_screen(app, "live")


async def test_an_alarm_is_seen_on_other_screens_too(demo: Path, export: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(demo, export, 1)
    async with watching(export, monkeypatch) as (app, pilot, _):
        await until(app, pilot, "live: 1 frame")
        for key, words in (("d", "movement"), ("U", "UV map"), ("v", "shaded")):
            await pilot.press(key)
            await until(app, pilot, words)
            app.post_message(Alarm("frame 3: No UVs  manta.0003.obj"))
            await until(app, pilot, "E ALARM frame 3: No UVs")
            await pilot.press("q")


async def test_an_alarm_is_whole_in_80_cells(demo: Path, export: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    longest = max(all_checks(), key=lambda check: len(check.title))
    found = finding(longest.id, Severity.ERROR, 1001)
    came = replace(arrival(1001, found), file=Name(b"kelp_at_the_bottom_of_the_harbour.obj"))
    words = live_engine.Alarms().words(came)
    async with watching(export, monkeypatch) as (app, pilot, _):
        await until(app, pilot, "live: no frame yet")
        app.post_message(Alarm(words))
        text = await until(app, pilot, "ALARM")
        assert f"E ALARM frame 1001: {longest.title}\n" in text.splitlines()[0] + "\n"


async def test_nothing_is_told_while_nothing_comes(demo: Path, export: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    async with watching(export, monkeypatch) as (app, pilot, _):
        write(demo, export, 1)
        await until(app, pilot, "live: 1 frame  L: end")
        drawn: list[object] = []
        monkeypatch.setattr(app, "show_session", lambda: drawn.append(1))
        await pilot.pause(0.5)
        assert not drawn


async def test_an_error_from_before_is_no_alarm(demo: Path, export: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in (1, 2, 3):
        write(demo, export, number, uvs=number != 3)
    app = MeshqcApp(export, Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        await pilot.press("L")
        text = await until(app, pilot, "live: 3 frames")
        assert "No UVs" in text
        write(demo, export, 4)
        await until(app, pilot, "4 frames")
        await pilot.pause(0.4)
        assert not app.session.status.alarm
        await pilot.press("r")  # reading again ends the watching
        await until(app, pilot, "4 files")
        assert not app.session.status.live


def test_what_is_measured_already_is_not_measured_again(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    looks = iter([True, False])
    first = list(watch(demo / "manta", lambda _: next(looks)))[-1]
    assert len(first.arrived) == 24
    monkeypatch.setattr("inspector.sequence.run.scan.Measurer.facts", None)
    (again,) = watch(demo / "manta", lambda _: False, first.measured)
    assert again.measured == first.measured
    assert not again.arrived
    assert not again.growing


def test_a_title_holds_nothing_that_a_terminal_acts_on() -> None:
    """OSC ends with ST, which is ESC and a backslash (ECMA-48, 8.3.89 and 8.3.143)."""
    title = title_sequence("meshqc: E \x1b]0;x\x07\x9c\u202e\xe4.obj")
    assert title.startswith("\x1b]2;")
    assert title.endswith("\x1b\\")
    assert not harmful(title[4:-2])
    assert title[4:-2].isascii()


def test_the_rate_is_that_of_frames_that_arrived_while_it_watched() -> None:
    """Frames of the first poll don't count. Then 3 frames arrive in 30 s, which is 6 per minute."""
    there = [5.0] * 20
    settings = Settings(expected=(Fraction(1), Fraction(35)))
    assert live_engine.rate_words(there, settings, 20) == ""
    assert live_engine.rate_words([*there, 15.0, 25.0], settings, 22) == ""
    assert live_engine.rate_words([*there, 15.0, 25.0, 35.0], Settings(), 23) == "  6 per minute"
    assert live_engine.rate_words([*there, 15.0, 25.0, 35.0], settings, 23) == "  6 per minute  about 2 min left"
    assert live_engine.rate_words([], settings, 0) == ""
