"""The keyboard face."""

from __future__ import annotations

import gc
import os
import sys
from multiprocessing import resource_tracker
from pathlib import Path

from inspector import limits
from inspector.errors import MeshqcError
from inspector.sequence.discovery.settings import Settings
from inspector.tui import saved_state
from inspector.tui.drawers.actions import ActionsDrawer
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.glyphs import ASCII, UNICODE
from inspector.tui.reading_app import ReadingApp
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.terminal import require_screen, speaks_utf8
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.help_text import help_card
from inspector.tui.writing_app import WritingApp


def run(folder: Path, settings: Settings, *, calm: bool = False, live: bool = False) -> int:
    """Open the keyboard face on a folder; returns an exit code. calm: nothing on the screen moves by itself. live: an
    export writes to the folder. Raises MeshqcError without a usable terminal, or for a folder that can't be read."""
    require_screen(folder)
    # Worker processes need this helper, and it needs a real stderr, which the running app hides from it.
    resource_tracker.ensure_running()
    # Keys are answered between the steps of the reading thread, which else takes five times as long a turn.
    sys.setswitchinterval(limits.TURN)
    # A full collection walks over the facts of all frames, for a tenth of a second with 10,000: it is a key that waits.
    gc.set_threshold(700, 10, 1000)
    app = MeshqcApp(folder, settings, UNICODE if speaks_utf8(os.environ) else ASCII, calm=calm, live=live)
    with app.ended_by_signals():
        code = app.run(mouse=False)
    if code is None:
        # Without words of ours the library has told on the terminal where the app broke.
        raise MeshqcError(app.fatal or "the keyboard face broke; nothing stands under the name of an output folder")
    return code


def reopen() -> int:
    """Open the folder that was open last, with what was stated about it then. Raises MeshqcError without any."""
    folder = saved_state.last_folder()
    if folder is None:
        raise MeshqcError("a folder is missing; see meshqc --help")
    return run(folder, saved_state.kept_of(folder).stated)


class MeshqcApp(ReadingApp, WritingApp):
    """Reading, staging and writing in one; help and the way out."""

    async def action_help(self) -> None:
        await self.push_screen(TextScreen(self.session, self.glyphs, "help", help_card(self.glyphs)))

    async def action_actions(self) -> None:
        """Do what is chosen from the keys of the screen that is shown."""
        screen = self.screen

        async def done(action: str | None) -> None:
            if action is not None:
                await self.run_action(action, screen)

        table = screen.query_one(KeyFooter).table
        await self.push_screen(ActionsDrawer(self.glyphs, table), done)

    async def action_quit(self) -> None:
        """The library's own key for leaving asks the same question as ours."""
        await self.action_leave()

    def action_help_quit(self) -> None:
        """ctrl+c, where the library would open a box."""
        self.say("q: leave")

    async def action_leave(self) -> None:
        if not self.session.unwritten:
            await self._leave()
            return

        async def done(answer: int | None) -> None:
            if answer == 0:
                await self._leave()

        lines = ["leave; what is staged is kept for the next time", "stay"]
        await self.push_screen(ChoiceDrawer(self.glyphs, "fixes are staged and not written", lines, 1), done)

    async def _leave(self) -> None:
        await self.session.link.settle()
        self.exit(0)
