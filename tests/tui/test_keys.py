"""The one table of keys: complete, without clashes, and without keys that a terminal or tmux takes."""

from __future__ import annotations

import pytest

from inspector.fixes.base.fix import FixKind
from inspector.report.text_style import Look
from inspector.tui import keys
from inspector.tui.app import MeshqcApp
from inspector.tui.drawers.actions import ActionsDrawer
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.drawers.prompt import Prompt
from inspector.tui.glyphs import UNICODE
from inspector.tui.keys import Key
from inspector.tui.screens.compare_screen import CompareScreen
from inspector.tui.screens.finding_screen import FindingScreen
from inspector.tui.screens.fit_screen import FitScreen
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.screens.plan_screen import PlanScreen
from inspector.tui.screens.plots_screen import PlotsScreen
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.screens.uv_screen import UvScreen
from inspector.tui.screens.viewer_screen import ViewerScreen
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.widgets.cursor_list import CursorList
from inspector.tui.widgets.help_text import help_card
from inspector.tui.widgets.text_page import Page

TABLES: dict[str, tuple[tuple[Key, ...], type]] = {
    "list": (keys.LIST, CursorList),
    "page of text": (keys.LIST, Page),
    "main": (keys.MAIN, MainScreen),
    "viewer": (keys.VIEWER, ViewerScreen),
    "UV map": (keys.UV_MAP, UvScreen),
    "plots": (keys.PLOTS, PlotsScreen),
    "compare": (keys.COMPARE, CompareScreen),
    "fit": (keys.FIT, FitScreen),
    "actions": (keys.ACTIONS, ActionsDrawer),
    "finding": (keys.FINDING, FindingScreen),
    "plan": (keys.PLAN, PlanScreen),
    "prompt": (keys.PROMPT, Prompt),
    "choice": (keys.CHOICE, ChoiceDrawer),
    "writing": (keys.WRITING, WritingScreen),
    "text": (keys.PAGE, TextScreen),
}

# tmux and screen take ctrl+b and ctrl+a as prefixes, terminals take ctrl+s and ctrl+z (POSIX general terminal
# interface: STOP, SUSP), and ctrl+i, ctrl+m, ctrl+h are the bytes of tab, enter and backspace (ECMA-48: HT, CR, BS).
TAKEN = {f"ctrl+{letter}" for letter in "absziqmh"}


@pytest.mark.parametrize("name", TABLES)
def test_no_key_that_never_arrives(name: str) -> None:
    assert not TAKEN & {one for key in TABLES[name][0] for one in key.keys}


@pytest.mark.parametrize("name", TABLES)
def test_no_key_means_two_things(name: str) -> None:
    names = [one for key in TABLES[name][0] for one in key.keys]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("name", TABLES)
def test_every_action_exists(name: str) -> None:
    table, where = TABLES[name]
    for key in table:
        action = key.action.split("(")[0]
        owner, action = (MeshqcApp, action[4:]) if action.startswith("app.") else (where, action)
        assert not action or hasattr(owner, f"action_{action}"), key


@pytest.mark.parametrize("name", TABLES)
def test_esc_is_never_the_only_way(name: str) -> None:
    for key in TABLES[name][0]:
        assert "escape" not in key.keys or len(key.keys) > 1


def test_the_help_page_tells_every_key_of_the_table() -> None:
    told = help_card(UNICODE).text(Look(200)).plain
    for table, _ in TABLES.values():
        for key in table:
            assert key.help in told
            assert not key.keys or all(word in told for word in key.shown.split(", ")), key


def test_the_help_page_tells_what_kinds_of_fixes_there_are() -> None:
    told = help_card(UNICODE).text(Look(200)).plain
    assert all(f"  {kind.value}  " in told for kind in FixKind)


def test_every_sentence_fits_beside_its_key_in_the_list_of_actions() -> None:
    """80 columns, of which two are the cursor's, fourteen the key's and one stands between."""
    sentences = [words for _, table in keys.HELP for key in table for words in (key.help, key.alone)]
    assert [words for words in sentences if len(words) > 80 - 2 - 14 - 1] == []
