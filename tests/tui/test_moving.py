"""Tests of navigation on the main screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from textual.pilot import Pilot

from inspector.checks.base.finding import Severity
from inspector.sequence.discovery.settings import Settings
from inspector.tui import columns
from inspector.tui.app import MeshqcApp
from inspector.tui.columns import Arrangement, FrameValues, arrange
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.glyphs import ASCII, UNICODE, Glyphs
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.widgets.frame_table import FrameTable
from inspector.tui.workers import engine
from tests.helpers.tui.screens import SMALL, app_on, opened, press, resize, screen_text
from tests.helpers.tui.world import facts_of, finding, folder, harbour, inspected, sequence, view_of


def frame_under_cursor(app: MeshqcApp) -> str:
    (line,) = (row for row in table_rows(app) if row.startswith(">"))
    return line.split()[1]


def table_rows(app: MeshqcApp) -> list[str]:
    rows = screen_text(app).splitlines()
    head = next(at for at, row in enumerate(rows) if row.startswith("  frame file"))
    return rows[head + 1 : next(at for at, row in enumerate(rows) if at > head and row.startswith("─"))]


async def walk(pilot: Pilot[int], app: MeshqcApp, keys: Sequence[str]) -> list[tuple[str, int | None]]:
    seen = []
    for key in keys:
        await press(pilot, key)
        seen.append((frame_under_cursor(app), app.session.selection.finding))
    return seen


async def test_problems_forth_and_back(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        seen = await walk(pilot, app, ["n", "n", "n", "n", "N", "N", "N"])
        assert seen == [("8", 0), ("9", 2), ("14", 1), ("14", 1), ("9", 2), ("8", 0), ("8", 0)]
        assert "no earlier problem in this sequence" in screen_text(app)
        await press(pilot, "down")
        assert "no earlier problem" not in screen_text(app)


async def test_the_finding_follows_the_frame_and_the_frame_the_finding(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        assert await walk(pilot, app, ["end"]) == [("24", None)]
        await press(pilot, "tab")
        # The focus is now on the findings: missing frame 14, UVs on 8 and 9, jump on 9, note on 20.
        assert await walk(pilot, app, ["end", "up", "up", "home"]) == [("20", 3), ("9", 2), ("9", 0), ("14", 1)]
        await press(pilot, "shift+tab")
        assert await walk(pilot, app, ["down", "down"]) == [("15", None), ("16", None)]


async def test_a_key_pressed_before_the_table_has_its_place_leaves_the_rows_above_in_view(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """If the table scrolled before it had a size, it would scroll as if only one row fitted."""
    monkeypatch.setattr(engine, "read_and_check", lambda *_: None)
    app = MeshqcApp(harbour().root, Settings(), UNICODE)
    async with app.run_test(size=SMALL) as pilot:
        await press(pilot)
        app.session.views = engine.views_of(harbour())
        (table,) = app.screen.query(FrameTable).results(FrameTable)
        assert isinstance(app.screen, MainScreen)
        app.screen.session_changed()
        assert not table.size.height
        table.put_cursor(7)
        await press(pilot)
        assert [row.split()[1 if row.startswith(">") else 0] for row in table_rows(app)][:2] == ["1", "2"]
        assert frame_under_cursor(app) == "8"


async def test_filter_and_sort(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "f", "2")
        assert [row.split()[0].strip(">") or row.split()[1] for row in table_rows(app) if row] == ["8", "9", "14", "20"]
        await press(pilot, "f", "4", "s", "f")
        assert await walk(pilot, app, ["home", "down", "down"]) == [("14", 1), ("9", 0), ("8", 0)]
        await press(pilot, "f", "1", "s", "w")
        assert await walk(pilot, app, ["home", "down", "end"]) == [("14", 1), ("8", 0), ("24", None)]


async def test_going_to_a_frame(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", *"14", "enter")
        assert frame_under_cursor(app) == "14"
        await press(pilot, "number_sign", *"1e999", "enter")
        assert "a frame number such as 118" in screen_text(app)
        await press(pilot, "ctrl+c", "f", "4", "number_sign", *"20", "enter")
        assert "the filter hides this frame" in screen_text(app)


async def test_the_strip_covers_ten_thousand_frames_and_goes_along_them(monkeypatch: pytest.MonkeyPatch) -> None:
    shot = sequence(b"manta", range(1, 10_001))
    found = [finding("frozen", Severity.ERROR, 6_321)]
    async with opened(folder(inspected(shot, found)), monkeypatch) as (app, pilot):
        strip = screen_text(app).splitlines()[1]
        assert strip.count("E") == 1  # one frame in ten thousand is not lost
        cells = strip.split()[1]
        assert cells.index("E") == 6_320 * len(cells) // 10_000
        await press(pilot, "n", "right")
        assert float(frame_under_cursor(app)) == pytest.approx(6_321 + 10_000 / len(cells), abs=10_000 / len(cells))
        await press(pilot, "end")
        assert frame_under_cursor(app) == "10000"


async def test_only_rows_on_the_screen_are_formatted(monkeypatch: pytest.MonkeyPatch) -> None:
    shot = sequence(b"manta", range(1, 10_001))
    async with opened(folder(inspected(shot, [])), monkeypatch) as (app, pilot):
        asked: list[int] = []
        column = columns.COLUMNS[-1]
        spy = replace(column, text=lambda _, row: asked.append(row) or "")
        monkeypatch.setattr("inspector.tui.widgets.frame_table.COLUMNS", (*columns.COLUMNS[:-1], spy))
        await press(pilot, "end")
        assert set(asked) == set(range(10_000 - len(table_rows(app)), 10_000))
        assert app.query_one(FrameTable).row_count() == 10_000


def test_a_frame_that_cannot_be_read_and_one_that_is_missing_sort_last_by_size() -> None:
    shot = sequence(b"manta", [1, 2, 3, 5])
    facts = list(facts_of(shot))
    facts[1] = type(facts[1])(facts[1].number, facts[1].file, False, ())
    view = view_of(inspected(shot, [finding("missing-frames", Severity.ERROR, 4)], tuple(facts)))
    assert arrange(FrameValues(view), Arrangement(column="size")) == [0, 2, 4, 1, 3]


async def test_a_frame_that_is_not_there_is_told_of(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "number_sign", "5", "0", "enter")
        assert frame_under_cursor(app) == "24"
        assert "no frame 50; went to the nearest frame, 24" in screen_text(app)
        await press(pilot, "number_sign", "7", "enter")
        assert "no frame 50" not in screen_text(app)
        for digit, nearest in (("4", "7"), ("6", "8")):
            await press(pilot, "number_sign", "7", "full_stop", digit, "enter")
            assert frame_under_cursor(app) == nearest
            assert f"no frame 7.{digit}; went to the nearest frame, {nearest}" in screen_text(app)


async def test_a_cut_page_says_that_there_is_more(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        assert "enter: more" not in screen_text(app)  # nothing was found on frame 1, so there are only two lines
        await press(pilot, "n")
        assert "enter: more" in screen_text(app)
        await press(pilot, "enter")
        assert "more below" not in screen_text(app)
        await press(pilot, "q", "question_mark")
        assert "─ more below ─" in screen_text(app)
        await press(pilot, "down")
        assert "─ more above and below ─" in screen_text(app)
        await press(pilot, "end")
        assert "─ more above ─" in screen_text(app)


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII])
async def test_a_list_says_where_there_is_more(monkeypatch: pytest.MonkeyPatch, glyphs: Glyphs) -> None:
    up, down = glyphs.beyond
    app = app_on(harbour(), monkeypatch, glyphs)
    async with app.run_test(size=SMALL, notifications=True) as pilot:

        def signs(rows: slice) -> list[str]:
            return [row[:2].strip(" >") for row in screen_text(app).splitlines()[rows]]

        await press(pilot)
        lines = screen_text(app).splitlines()
        first = next(at for at, row in enumerate(lines) if row.startswith("  frame file")) + 1
        stop = next(at for at, row in enumerate(lines) if row.startswith(2 * glyphs.rule[0:1]) or " findings " in row)
        table, actions = slice(first, stop), slice(13, 21)
        shown = stop - first
        assert signs(table) == [*[""] * (shown - 1), down]
        await press(pilot, *["down"] * shown)
        assert signs(table) == [up, *[""] * (shown - 2), down]
        await press(pilot, "end")
        assert signs(table) == [up, *[""] * (shown - 1)]
        await press(pilot, "colon")
        text = screen_text(app)
        assert "more below" in text
        assert [sign for sign in signs(actions) if sign] == [down]
        await press(pilot, *["down"] * 40)
        text = screen_text(app)
        assert "more above " in text
        assert [sign for sign in signs(actions) if sign] == [up]
        await press(pilot, *"frame as a picture")
        assert "more" not in screen_text(app).splitlines()[12]


async def test_a_choice_longer_than_the_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await app.push_screen(ChoiceDrawer(UNICODE, "faces of", [f"kelp_{number}" for number in range(1, 41)]))
        await press(pilot, *["down"] * 30)
        text = screen_text(app)
        assert "─ faces of ─" in text
        assert "more above and below" in text
        assert ">   kelp_31" in text
        assert "key, or arrows and enter choose" in text


async def test_a_frame_without_a_finding_can_be_read_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "enter")
        assert screen_text(app).startswith("─ frame 1 ─")
        await press(pilot, "q")
        assert frame_under_cursor(app) == "1"


@pytest.mark.parametrize("columns_left", [1, 2, 3, 4])
async def test_a_long_message_on_a_terminal_of_a_few_columns(
    columns_left: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, *"nnnnn")  # a message of many words
        await resize(pilot, (columns_left, 10))
        await resize(pilot, SMALL)
        assert "no later problem" in screen_text(app)


async def test_a_key_of_the_main_screen_says_so_on_another_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "p", "c")
        assert "c (compare) works on the main screen, not here" in screen_text(app)
        await press(pilot, "j")
        assert "main screen" not in screen_text(app)
        await press(pilot, "q", "J")
        assert "main screen" not in screen_text(app)
