"""Tests of the list of commands."""

from __future__ import annotations

import pytest

from inspector.tui import keys
from inspector.tui.drawers.commands import CommandList
from inspector.tui.screens.plots_screen import PlotsScreen
from tests.helpers.tui.screens import cursor_frame, opened, press, screen_text
from tests.helpers.tui.world import harbour


async def test_a_command_is_found_and_done(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "colon", *"plots", "enter")
        assert isinstance(app.screen, PlotsScreen)
        await press(pilot, "colon", *"other way", "enter")
        assert "no matching command" in screen_text(app)
        await press(pilot, "ctrl+u", *"half as many", "enter")
        assert app.screen.window == (0, 12)
        await press(pilot, "colon", *"zoom out", "enter")
        assert app.screen.window is None
        await press(pilot, "colon", "ctrl+c", "q")
        await press(pilot, "colon", *"lossless", "enter")
        assert "no plan can be made: manta.0001.obj: No such file" in screen_text(app)  # there are no files


async def test_what_a_line_cuts_is_shown_below_it(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "colon", *"copy")
        text = " ".join(screen_text(app).split())
        assert "Copy the file's path, the finding or a command line to the clipboard. : copy" in text
        await press(pilot, "ctrl+u", *"mark", "down")
        assert "Go to the next marked frame." in screen_text(app)
        assert screen_text(app).count("Go to the next marked frame.") == 1  # this line fits


@pytest.mark.parametrize(
    ("words", "name"),
    [
        *(("plan", "plan"), ("quit", "quit"), ("help", "help"), ("jump", "go to frame"), ("undo", "undo")),
        *(("copy", "copy"), ("save", "write"), ("open", "open"), ("path", "copy"), ("reload", "read again")),
        *(("refresh", "read again"), ("search", "find"), ("editor", "editor"), ("next error", "next")),
    ],
)
async def test_the_words_of_the_footer_and_others_find_a_command(
    words: str, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "colon", *words.replace(" ", "_").replace("_", " "))
        assert name in [line[1] for line in app.screen.query_one(CommandList).lines]


async def test_a_number_goes_to_that_frame(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "colon", *"20", "enter")
        assert cursor_frame(app) == "20"


async def test_every_command_has_a_key_a_name_and_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "colon")
        lines = app.screen.query_one(CommandList).lines
        assert {line[3] for line in lines} == {key.action for key in keys.MAIN if "{}" not in key.action}
        assert all(all(line) for line in lines)
