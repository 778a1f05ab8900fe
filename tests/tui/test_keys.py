"""Tests of the table of keys."""

from __future__ import annotations

import inspect
import pkgutil
from collections import Counter
from importlib import import_module
from string import ascii_letters

import pytest

from inspector.fixes.base.fix import FixKind
from inspector.report.text_style import TextStyle
from inspector.tui import keys, screens
from inspector.tui.app import MeshqcApp
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.drawers.commands import CommandsDrawer
from inspector.tui.drawers.prompt import Prompt
from inspector.tui.glyphs import UNICODE
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.screens.caption_screen import CaptionScreen
from inspector.tui.screens.compare_screen import CompareScreen
from inspector.tui.screens.export_screen import ExportScreen
from inspector.tui.screens.finding_screen import FindingScreen
from inspector.tui.screens.fit_screen import FitScreen
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.screens.plan_screen import PlanScreen
from inspector.tui.screens.plots_screen import PlotsScreen
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.screens.uv_screen import UvScreen
from inspector.tui.screens.viewer_screen import ViewerScreen
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.screens.written_screen import WrittenScreen
from inspector.tui.widgets.cursor_list import CursorList
from inspector.tui.widgets.help_text import help_card
from inspector.tui.widgets.text_page import Page

OWNERS: dict[str, tuple[type, ...]] = {
    "Lists and pages": (CursorList, Page),
    "Main screen": (MainScreen,),
    "Viewer": (ViewerScreen,),
    "UV map": (UvScreen,),
    "Plots": (PlotsScreen,),
    "Compare": (CompareScreen,),
    "Texture and lettering": (FitScreen,),
    "Captions": (CaptionScreen,),
    "Comparison of exports": (ExportScreen,),
    "The list of commands": (CommandsDrawer,),
    "Finding": (FindingScreen,),
    "Plan": (PlanScreen,),
    "Prompts": (Prompt,),
    "Choices": (ChoiceDrawer,),
    "While writing": (WritingScreen,),
    "After writing": (WrittenScreen,),
    "Pages of text": (TextScreen,),
}
WITH_LISTS = (
    *("Main screen", "Finding", "Plan", "Pages of text", "Texture and lettering", "Captions", "After writing"),
    "Comparison of exports",
)
"""Screens with a list or a page of text, in which the keys of `Lists and pages` move the cursor or the page."""
SCREEN_CLASSES = [
    one
    for module in pkgutil.iter_modules(screens.__path__, f"{screens.__name__}.")
    for one in vars(import_module(module.name)).values()
    if inspect.isclass(one) and issubclass(one, SessionScreen) and one.__module__ == module.name
    if "BINDINGS" in vars(one)
]
"""The screen classes that have keys. A class without keys is only a base class."""

# tmux and screen use ctrl+b and ctrl+a as prefixes, and terminals use ctrl+s (POSIX general terminal interface: STOP).
# ctrl+i, ctrl+m and ctrl+h are the bytes of tab, enter and backspace (ECMA-48: HT, CR, BS).
TAKEN = {f"ctrl+{letter}" for letter in "absqimh"}


def names(heading: str) -> list[str]:
    return [name for key in keys.SCREENS[heading] for name in key.keys]


def free_letters() -> str:
    taken = {name for table in keys.SCREENS.values() for key in table for name in key.keys}
    return " ".join(sorted(set(ascii_letters) - taken)) or "none"


SEVERAL_NAMES: dict[str, set[str]] = {
    "G": {"last frame", "last line"},
    "g": {"first frame", "first line"},
    "j": {"next frame", "down"},
    "k": {"previous frame", "up"},
    "q": {"quit", "back", "cancel"},
    "v": {"view", "before/after"},
    "w": {"write", "write template"},
}
"""Letters whose names differ between screens.

`G`, `g`, `j`, `k` and `q` mean the same everywhere, as in less and vi. Where one screen moves by frames, another moves
by lines.

`v` shows a frame and, in the viewer, the frame after a fix. `w` writes the template on the texture page, and the
corrected folder elsewhere.
"""


def test_a_letter_means_the_same_on_every_screen() -> None:
    named: dict[str, set[str]] = {}
    for table in keys.SCREENS.values():
        for key in table:
            for letter in set(key.keys) & set(ascii_letters):
                named.setdefault(letter, set()).add(key.name)
    several = {letter: both for letter, both in named.items() if len(both) > 1}
    assert several == SEVERAL_NAMES, (
        f"a letter means the same on every screen: give the row the name that the letter has elsewhere, or another "
        f"letter; free on all screens: {free_letters()}"
    )


def test_every_table_has_a_screen() -> None:
    assert keys.SCREENS.keys() == OWNERS.keys(), (
        "each heading of keys.SCREENS belongs to a class in OWNERS, above; only in one of them: "
        f"{sorted(keys.SCREENS.keys() ^ OWNERS.keys())}"
    )


@pytest.mark.parametrize("screen", SCREEN_CLASSES)
def test_the_keys_of_every_screen_are_on_the_help_page(screen: type) -> None:
    own = vars(screen)["BINDINGS"]
    headings = [heading for heading, table in keys.SCREENS.items() if keys.bindings(table) == own]
    assert headings, f"`?` doesn't know {own}: a row in keys.SCREENS, or keys.PAGE if the screen has no own keys"
    assert any(screen in OWNERS[heading] for heading in headings), f"add {screen.__name__} to {headings} in OWNERS"


@pytest.mark.parametrize("heading", keys.SCREENS)
def test_no_key_that_never_arrives(heading: str) -> None:
    assert not TAKEN & set(names(heading)), "the terminal or tmux keeps these for itself; take others in tui/keys.py"


@pytest.mark.parametrize("heading", keys.SCREENS)
def test_no_key_means_two_things(heading: str) -> None:
    twice = [name for name, count in Counter(names(heading)).items() if count > 1]
    assert not twice, f"in two rows of this table of tui/keys.py: {twice}; free on all screens: {free_letters()}"


@pytest.mark.parametrize("heading", WITH_LISTS)
def test_no_key_of_a_screen_is_one_of_its_lists(heading: str) -> None:
    both = set(names(heading)) & set(names("Lists and pages"))
    assert not both, f"its list moves with these: {both}; free on all screens: {free_letters()}"


@pytest.mark.parametrize("heading", keys.SCREENS)
def test_every_action_exists(heading: str) -> None:
    for key in keys.SCREENS[heading]:
        action = key.action.split("(")[0]
        app = action.startswith("app.")
        for owner in (MeshqcApp,) if app else OWNERS[heading]:
            method = f"action_{action.removeprefix('app.')}"
            assert not action or hasattr(owner, method), f"{owner.__name__} needs {method} for the key {key.shown}"


@pytest.mark.parametrize("heading", keys.SCREENS)
def test_esc_is_never_the_only_way(heading: str) -> None:
    for key in keys.SCREENS[heading]:
        assert "escape" not in key.keys or len(key.keys) > 1, f"give {key.name} a second key, as `q` in _BACK"


def test_one_action_has_one_name() -> None:
    called: dict[str, set[str]] = {}
    for table in keys.SCREENS.values():
        for key in table:
            if key.action.startswith("app."):
                called.setdefault(key.action, set()).add(key.name)
    assert {action: names for action, names in called.items() if len(names) > 1} == {}


def test_nothing_destructive_waits_below_a_screen() -> None:
    """A key that leaves a screen acts on the main screen if it is pressed once too often. There, `r` reads the folder
    again, `L` watches it, and `R` sets the reference frame."""
    reads, watches = "r", "L"
    for heading, table in keys.SCREENS.items():
        if heading != "Main screen":
            taken = {reads, watches, "R"} & {name for key in table for name in key.keys}
            assert not taken, f"{heading}: {taken} would act on the main screen if pressed twice; take another letter"


def test_the_help_page_shows_every_key_of_the_table_and_this_screen_first() -> None:
    for heading, table in keys.SCREENS.items():
        shown = help_card(UNICODE, table).text(TextStyle(200)).plain
        assert shown.startswith(f"{heading} (this screen)")
        for other in keys.SCREENS.values():
            for key in other:
                assert f"{key.name}: {key.help}" in shown
                assert key.shown in shown


def test_the_help_page_explains_the_kinds_of_fixes() -> None:
    shown = help_card(UNICODE, keys.MAIN).text(TextStyle(200)).plain
    assert all(f"  {kind.value}  " in shown for kind in FixKind)


def test_digits_are_shown_as_a_range() -> None:
    assert keys.Key(tuple("123456789"), "", "", "").shown == "1-9"
    assert keys.Key(tuple("1234567890"), "", "", "").shown == "1-9, 0"
    assert keys.Key(("question_mark", "j"), "", "", "").shown == "?, j"
