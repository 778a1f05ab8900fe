"""Every action by its name: found by words, and done on the screen below."""

from __future__ import annotations

import pytest

from inspector.tui import keys
from inspector.tui.drawers.actions import named_actions
from inspector.tui.screens.plots_screen import PlotsScreen
from tests.helpers.tui.screens import opened, press, screen_text
from tests.helpers.tui.world import harbour


async def test_an_action_is_found_and_done(monkeypatch: pytest.MonkeyPatch) -> None:
    async with opened(harbour(), monkeypatch) as (app, pilot):
        await press(pilot, "colon", *"plots", "enter")
        assert isinstance(app.screen, PlotsScreen)
        await press(pilot, "colon", *"other way", "enter")
        assert "no action here has these words" in screen_text(app)
        await press(pilot, "ctrl+u", *"half as many", "enter")
        assert app.screen.window == (0, 12)
        await press(pilot, "colon", *"twice as many", "enter")
        assert app.screen.window is None
        await press(pilot, "colon", "ctrl+c", "q")
        await press(pilot, "colon", *"exact", "enter")
        assert "refused: manta.0001.obj: No such file" in screen_text(app)  # the made-up world has no files


def test_every_key_that_does_one_thing_is_there_and_says_what() -> None:
    for table in (keys.MAIN, keys.VIEWER, keys.UV_MAP, keys.PLOTS, keys.COMPARE, keys.FIT):
        named = named_actions(table)
        assert {action for _, _, action in named} == {
            key.action for key in table if key.action and "{}" not in key.action
        }
        assert all(shown and words for shown, words, _ in named)
        assert len({shown for shown, _, _ in named}) == len(named)
        # Two keys may do the same thing; what does another thing has other words.
        assert len({words for _, words, _ in named}) == len({action for _, _, action in named})
