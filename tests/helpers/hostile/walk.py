"""A walk through every screen of the terminal UI with the keyboard. The keys to press on a screen are taken from the
screen's own table of keys."""

from __future__ import annotations

import importlib
import itertools
import pkgutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from textual.pilot import Pilot
from textual.screen import Screen

import inspector.tui
from inspector.tui.app import MeshqcApp
from inspector.tui.drawers.choice import ChoiceDrawer, ChoiceList
from inspector.tui.drawers.commands import CommandsDrawer
from inspector.tui.drawers.prompt import Prompt
from inspector.tui.screens.caption_screen import CaptionScreen
from inspector.tui.screens.compare_screen import CompareScreen
from inspector.tui.screens.export_screen import ExportScreen
from inspector.tui.screens.finding_screen import FindingScreen
from inspector.tui.screens.fit_screen import FitScreen
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.screens.picture_screen import PictureScreen
from inspector.tui.screens.plan_screen import PlanScreen
from inspector.tui.screens.plots_screen import PlotsScreen
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.screens.uv_screen import UvScreen
from inspector.tui.screens.viewer_screen import ViewerScreen
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.frame_table import FrameTable

AnyScreen = type[Screen[object]]
Keys = tuple[str, ...]


@dataclass(frozen=True)
class Row:
    """How to reach a screen.

    Attributes:
        ways: Sequences of keys, each of which leads from the main screen to the screen.
        over: Sequences of keys to press on the screen. After each sequence, all frames are stepped through. Empty if
            the frames are not stepped through.
    """

    ways: tuple[Keys, ...]
    over: tuple[Keys, ...] = ()


ROWS: dict[AnyScreen, Row] = {
    FindingScreen: Row((("n", "enter"),)),
    WritingScreen: Row((("w", "ctrl+u", *"out", "enter"),)),
    ViewerScreen: Row((("v",),), ((), ("l", "2"), ("l", "4"), ("l", "5", "b"))),
    UvScreen: Row((("U",),), ((), ("l", "2", "b"))),
    CompareScreen: Row((("c", "enter"), ("c", "end", "enter", "ctrl+u", *"out", "enter")), ((),)),
    ExportScreen: Row((("X", "ctrl+u", *"out", "enter"),)),
    PlotsScreen: Row((("d",),), ((),)),
    FitScreen: Row((("t",),)),
    CaptionScreen: Row((("t", "T"),)),
    PlanScreen: Row((("p",),)),
    TextScreen: Row((("question_mark",),)),
    Prompt: Row((("number_sign",),)),
    ChoiceDrawer: Row((("f",),)),
    CommandsDrawer: Row((("colon",),)),
    MainScreen: Row(((),)),
}
ALL_FRAMES = ("f", "1", "s", "f", "home")
"""Keys that make the main screen's table show all frames, sorted by frame number, with the cursor on the first
frame."""

BACK = "escape"
_LEAVES = {"q", "escape", "ctrl+c", "ctrl+z"}
_LINES = 12  # maximum number of lines of a list to try
_GOES_ON = {"app.live"}  # runs until its key is pressed again


def all_screens() -> set[AnyScreen]:
    """Return the package's subclasses of `Screen` that have no subclasses themselves."""
    for module in pkgutil.walk_packages(inspector.tui.__path__, "inspector.tui."):
        importlib.import_module(module.name)
    return {one for one in _below(Screen) if one.__module__.startswith("inspector.") and not one.__subclasses__()}


def _below(one: type) -> Iterator[AnyScreen]:
    for sub in one.__subclasses__():
        yield sub
        yield from _below(sub)


class Walker:
    """Presses keys. After each key, `look` is called with the name of the key."""

    def __init__(self, app: MeshqcApp, pilot: Pilot[int], look: Callable[[str], None]) -> None:
        self.app, self.pilot, self.look = app, pilot, look

    async def press(self, *keys: str) -> None:
        """Press keys, and wait after each key until its effects have happened. Without keys, wait for pending
        effects."""
        for key in keys or ("",):
            await self.pilot.press(*[key] if key else [])
            await self.app.workers.wait_for_complete()
            await self.pilot.pause()
            self.look(key)

    async def to(self, kind: AnyScreen, way: Keys) -> None:
        await self.back_to(kind)
        if type(self.app.screen) is not kind:
            await self.press(*way)
        assert type(self.app.screen) is kind, f"{way} leads to {self.app.screen}, not {kind}"

    async def back_to(self, kind: AnyScreen) -> None:
        while type(self.app.screen) not in (kind, MainScreen):
            before = self.app.screen
            await self.press(BACK)
            assert self.app.screen is not before, f"{BACK} doesn't leave {before}"

    async def all_frames(self) -> None:
        """Return to the main screen and show all frames. Check that a frame is chosen, because many keys need one."""
        await self.back_to(MainScreen)
        await self.press(*ALL_FRAMES)
        assert self.app.screen.query_one(FrameTable).frame_row is not None

    async def every_key(self, kind: AnyScreen, *, every_line: bool = False) -> None:
        """For each command in a screen's table of keys, go to the screen and press the command's first key.

        Keys that leave the screen or the program are not pressed. With `every_line`, also choose each of the first 12
        lines of every list that opens.
        """
        way = ROWS[kind].ways[0]
        await self.all_frames()
        await self.to(kind, way)
        for key in self.app.screen.query_one(KeyFooter).table:
            name = key.keys[0]  # the other keys do the same
            if name in _LEAVES:
                continue
            if kind is MainScreen:
                await self.all_frames()
            await self.to(kind, way)
            if key.action in _GOES_ON:
                await self.pilot.press(name)
                await self.pilot.pause(0.1)
                self.look(name)
            await self.press(name)
            if every_line and kind is not ChoiceDrawer and isinstance(self.app.screen, ChoiceDrawer):
                await self._every_line(name, kind, way)

    async def _every_line(self, name: str, kind: AnyScreen, way: Keys) -> None:
        for line in range(min(_LINES, self.app.screen.query_one(ChoiceList).row_count())):
            if not isinstance(self.app.screen, ChoiceDrawer):
                await self.to(kind, way)
                await self.press(name)
            await self.press("home", *["down"] * line, "enter")

    async def every_frame(self, kind: AnyScreen) -> None:
        """Step through all frames of a screen, once for each combination of a key sequence in `ways` and a key sequence
        in `over`."""
        row = ROWS[kind]
        for way, keys in itertools.product(row.ways, row.over):
            await self.back_to(MainScreen)
            await self.to(kind, way)
            await self.press(*keys)
            screen = self.app.screen
            assert isinstance(screen, PictureScreen | PlotsScreen)
            for _ in screen.view.rows:
                await self.press("full_stop")
