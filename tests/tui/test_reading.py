"""Tests of reading a folder in a thread."""

from __future__ import annotations

import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from threading import Event

import pytest
from textual.message import Message

from inspector.checks.base.finding import Severity
from inspector.inspection.inspection import FolderInspection
from inspector.report.frame_rows import SequenceView, is_unread, unread
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.chunks import Urgent
from inspector.tui.app import MeshqcApp
from inspector.tui.glyphs import UNICODE
from inspector.tui.widgets.card import finding_card, frame_card
from inspector.tui.workers import engine
from inspector.tui.workers.messages import Checked, Read, Stopped
from tests.helpers.tui.screens import SMALL, app_on, cursor_frame, opened, press, screen_text, until
from tests.helpers.tui.world import finding, harbour, inspected, sequence, view_of


def no_stop() -> bool:
    return False


def test_what_the_thread_posts(demo: Path) -> None:
    posted: list[Message] = []
    engine.read_and_check(demo / "manta", Settings(), posted.append, no_stop)
    *reads, checked = posted
    assert all(isinstance(one, Read) for one in reads)
    assert isinstance(checked, Checked)
    assert [len(view.facts) for view in checked.views] == [24]
    assert not [finding for finding in checked.views[0].findings if finding.severity]


def test_the_names_are_judged_before_a_frame_is_read(demo: Path) -> None:
    """In manta_broken, frame 19 is missing, and two files have the number 24 (demo/defects.py)."""
    posted: list[Message] = []
    engine.read_and_check(demo / "manta_broken", Settings(), posted.append, no_stop)
    first = posted[0]
    assert isinstance(first, Read)
    assert first.words.startswith("file names: E 1 error  W 1 warning")
    assert all(is_unread(facts) for view in first.views for facts in view.facts)


def test_a_stop_leaves_nothing_checked(demo: Path) -> None:
    posted: list[Message] = []
    engine.read_and_check(demo / "manta", Settings(), posted.append, lambda: True)
    assert isinstance(posted[-1], Stopped)
    assert not posted[-1].fatal


async def test_a_folder_that_is_none_ends_the_program_with_the_reason(tmp_path: Path) -> None:
    app = MeshqcApp(tmp_path / "nowhere", Settings(), UNICODE)
    assert await app.run_async(headless=True, size=SMALL) is None
    assert "not a readable folder" in app.fatal


async def test_an_empty_folder_says_so(tmp_path: Path) -> None:
    app = MeshqcApp(tmp_path, Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await until(pilot, lambda: "nothing to inspect" in screen_text(app))  # before that, q would quit
        await press(pilot, "n", "1", "e", "enter", "q", "R", "d", "left", "w")
        await until(pilot, lambda: "nothing is staged" in screen_text(app))
        await press(pilot, "tab")
        assert "no sequence of numbered mesh files here" in screen_text(app)


async def test_frames_appear_and_keys_work_while_the_folder_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = harbour()
    go_on = Event()

    def slow(_root: object, _settings: object, post: engine.Post, cancelled: engine.Cancel, _seen: object) -> None:
        views = tuple(SequenceView(one.sequence, one.series.facts[:6]) for one in whole.inspections)
        post(Read(views, "reading 6 of 35  c: stop"))
        while not go_on.wait(0.01):
            if cancelled():
                post(Stopped("stopped: not all frames are read"))
                return
        post(Checked(whole, engine.views_of(whole)))

    monkeypatch.setattr(engine, "read_and_check", slow)
    app = MeshqcApp(whole.root, Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await until(pilot, lambda: "…0006" in screen_text(app))
        await pilot.press("down", "down")
        await pilot.pause()
        text = screen_text(app)
        assert "reading 6 of 35" in text
        assert "6 of 23 read" in text
        assert cursor_frame(app) == "3"
        await press(pilot, "ctrl+c")
        assert "stopped: not all frames are read" in screen_text(app)
        go_on.set()
        await press(pilot, "r")
        assert "E 2 errors" in screen_text(app)
        assert cursor_frame(app) == "3"


async def test_a_reading_that_another_replaces_says_nothing_more(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real, readings = engine.read_and_check, 0

    def slow(root: Path, settings: Settings, post: engine.Post, cancelled: engine.Cancel, seen: Urgent) -> None:
        nonlocal readings
        readings += 1
        if readings == 1:
            while not cancelled():
                time.sleep(0.01)
        real(root, settings, post, cancelled, seen)

    monkeypatch.setattr(engine, "read_and_check", slow)
    app = MeshqcApp(demo / "manta", Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await pilot.press("r")
        await until(pilot, lambda: "no problems found\n" in screen_text(app))
        assert "stopped" not in screen_text(app)


async def test_a_finding_that_is_open_while_the_folder_is_read_again(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "n", "enter")
        checked = app.session.views
        app.session.take_views([SequenceView(view.sequence, view.facts[1:]) for view in checked])
        app.show_session()
        await press(pilot, "n")
        assert "problems are listed once the frames are checked" in screen_text(app)
        app.session.take_views(checked)
        app.show_session()
        await press(pilot, "n")
        assert "frame 9" in screen_text(app)


async def test_another_reference_needs_no_new_reading(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = MeshqcApp(demo / "manta", Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert ". reference" in screen_text(app).splitlines()[3]
        monkeypatch.setattr(engine, "collect", None)  # reading a frame again would now fail
        await press(pilot, "down", "down", "R", "1")
        rows = screen_text(app).splitlines()
        assert ". reference" in rows[5]
        assert " 1.000 0.000 " in rows[5]
        assert ". reference" not in rows[3]


async def test_an_error_of_ours_ends_with_words(broken: FolderInspection, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*_: object) -> None:
        raise ZeroDivisionError("a slip\x1b[2J")

    monkeypatch.setattr(engine, "read_and_check", breaks)
    app = MeshqcApp(broken.root, Settings(), UNICODE)
    assert await app.run_async(headless=True, size=SMALL) is None
    assert app.fatal.startswith("an internal error in meshqc (test_reading.py:")
    assert app.fatal.endswith("): ZeroDivisionError: a slip\\x1b[2J")


class _Work:
    done = False

    def __call__(self) -> None:
        self.done = True

    def __repr__(self) -> str:
        raise AssertionError("what the work is given may be large, and keys would wait")


async def test_work_is_not_written_down(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        ones = [_Work(), _Work()]
        app.work(ones[0])
        app.screen.work(ones[1])
        await press(pilot)
        assert [one.done for one in ones] == [True, True]


def test_a_few_frames_give_a_first_verdict_while_the_rest_is_read(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("inspector.sequence.run.collect", "inspector.tui.workers.engine"):
        monkeypatch.setattr(f"{module}.SAMPLES_FROM", 10)
        monkeypatch.setattr(f"{module}.SAMPLES", 3)
    monkeypatch.setattr(engine, "BETWEEN_REPORTS", 0.0)
    posted: list[Message] = []
    settings = Settings(size=1.8)
    engine.read_and_check(demo / "kelp_broken", settings, posted.append, lambda: False)
    words = [one.words for one in posted if isinstance(one, Read)]
    looked = [one for one in words if one.startswith("first frames: E 4 errors  reading ")]
    assert looked
    assert words.index(looked[0]) <= 3


def test_a_finding_without_offers_says_when_there_will_be_some() -> None:
    found = [
        finding("uv-mismatch", Severity.ERROR, 8, fixes=("uv-restore",)),
        finding("step-change", Severity.WARNING, 9),
    ]
    view = view_of(inspected(sequence(b"manta", range(1, 13)), found))
    said = [finding_card(view, at, [], "once all is checked").text(TextStyle(80)).plain for at in (0, 1)]
    assert "fixes: offered once all is checked" in said[0]
    assert 'fixes: none; see "what to do" below' in said[1]


def test_a_sequence_with_failed_checks_is_not_called_ready() -> None:
    whole = inspected(sequence(b"manta", range(1, 13)), [])
    failed = replace(whole, verdict=replace(whole.verdict, failed=(("uv-mismatch", "ValueError: bad"),)))
    stated = Settings(expected=(Fraction(1), Fraction(12)), size=1.8)
    for one, settings, words in (
        (whole, stated, "; ready to deliver"),
        (whole, Settings(), ""),
        (whole, replace(stated, size=None), ""),
        (whole, replace(stated, expected=None), ""),
        (failed, stated, "; 1 check failed"),
    ):
        under = replace(one, context=replace(one.context, settings=settings))
        lines = frame_card(view_of(under)).text(TextStyle(80)).plain.splitlines()
        assert lines[0] == f". no problems found{words}"


async def test_a_thread_that_ends_while_the_app_shuts_down_is_told_nowhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """The thread's message may arrive while the screens are being removed."""
    whole = harbour()
    app = app_on(whole, monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await press(pilot)
        assert len(app.session_screens) == 1
        app._running = False  # the first thing that the library does when it shuts down
        app.on_checked(Checked(whole, engine.views_of(whole)))
        assert not app.session_screens
        app._running = True


async def test_each_row_says_what_is_true_of_its_sequence(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = harbour()
    first, second = whole.inspections
    none, other = list(map(unread, first.sequence.files)), tuple(map(unread, second.sequence.files))
    all_of = list(first.series.facts)
    monkeypatch.setattr(engine, "read_and_check", lambda *_: None)
    app = MeshqcApp(whole.root, Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:

        async def row(facts: list[FrameFacts], *, checking: bool = False) -> str:
            views = SequenceView(first.sequence, tuple(facts)), SequenceView(second.sequence, other)
            app.post_message(Read(views, "reading", checking=checking))
            await press(pilot)
            return screen_text(app).splitlines()[1].split("files  ")[1]

        assert await row(none) == "listed, not read yet"
        assert await row([*all_of[:6], *none[6:]]) == "6 of 23 read"
        assert await row(all_of) == "all read, not checked yet"
        assert "listed, not read yet" in screen_text(app).splitlines()[2]
        assert await row(all_of, checking=True) == "checking"
        app.post_message(Checked(whole, engine.views_of(whole)))
        await press(pilot)
        assert "23 files  .......EE....E.....n....  E 2" in screen_text(app)


async def test_what_is_not_checked_yet_is_called_so(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If all frames are read but none is checked, there may be further problems."""
    posted: list[Message] = []
    engine.read_and_check(demo / "manta_broken", Settings(), posted.append, no_stop)
    checking = next(one for one in posted if isinstance(one, Read) and one.checking)
    app = app_on(harbour(), monkeypatch)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        app.session.inspection = None
        app.post_message(checking)
        await press(pilot, "n")
        assert "problems are listed once the frames are checked" in screen_text(app)
        assert "─ findings ─" in screen_text(app)
        assert "0 findings" not in screen_text(app)


async def test_an_empty_folder_offers_the_keys_that_lead_on(tmp_path: Path) -> None:
    app = MeshqcApp(tmp_path, Settings(), UNICODE)
    async with app.run_test(size=SMALL, notifications=True) as pilot:
        await until(pilot, lambda: "nothing to inspect" in screen_text(app))
        assert screen_text(app).splitlines()[-1] == "L live  o open  r read again  : more  ? help  q quit"
        await pilot.press("L")
        await until(pilot, lambda: "Waiting for the first frame" in screen_text(app))
        await until(pilot, lambda: screen_text(app).splitlines()[-1].startswith("L end  a alarms"))
        await pilot.press("L")
        await until(pilot, lambda: "nothing to inspect" in screen_text(app))
