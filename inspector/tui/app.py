"""The app of the terminal UI, made of four parts: reading, staging, writing, and actions outside the open folder."""

from __future__ import annotations

from pathlib import Path

from inspector.delivery.plan_file import with_statements
from inspector.sequence.discovery.settings import Settings
from inspector.tui import saved_state
from inspector.tui.actions.outside import OutsidePart
from inspector.tui.actions.reading import ReadingPart
from inspector.tui.actions.staging import StagingPart
from inspector.tui.actions.writing import WritingPart
from inspector.tui.drawers.commands import CommandsDrawer
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.session import Session
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.help_text import help_card


class MeshqcApp(ReadingPart, StagingPart, WritingPart, OutsidePart):
    """The app. Screens show the session and post the user's requests. Only the app stages fixes and reads folders.

    Args:
        folder: The folder, or a frame file in the folder. If it is a frame file, the cursor starts on that frame.
        settings: The user's statements about the folder, and its delivery rules. Missing statements are replaced with
            those that were saved when the folder was last open.
        glyphs: The characters that the terminal can show.
        calm: If true, nothing on the screen may move by itself.
        live: Whether to watch an export into the folder.
    """

    CSS_PATH = "style.tcss"

    def __init__(
        self,
        folder: Path,
        settings: Settings,
        glyphs: Glyphs,
        *,
        calm: bool = False,
        live: bool = False,
    ) -> None:
        path = folder.resolve()
        root = path.parent if path.is_file() else path
        saved = saved_state.load(root)
        stated = with_statements(settings.without_rules(), saved.stated)
        session = Session(root, stated.under(settings.rules), calm=calm)
        session.status.live = live
        session.take_up(saved)
        super().__init__(session, glyphs, path if path.is_file() else None)

    def get_default_screen(self) -> MainScreen:
        return MainScreen(self.session, self.glyphs)

    async def action_help(self) -> None:
        table = self.screen.query_one(KeyFooter).table
        await self.push_screen(TextScreen(self.session, self.glyphs, "help", help_card(self.glyphs, table)))

    async def action_commands(self) -> None:
        """Let the user choose a command of the current screen, and run it. If the user types a number, go to that
        frame."""
        screen = self.screen

        async def done(action: str | None) -> None:
            if action is not None:
                await self.run_action(action, screen)

        await self.push_screen(CommandsDrawer(self.glyphs, screen.query_one(KeyFooter).table), done)

    def action_help_quit(self) -> None:
        """Stop the work in progress when Ctrl+C is pressed, instead of showing Textual's notification."""
        self.action_stop()

    def action_stop(self) -> None:
        """Stop writing the corrected folder or, if the plan isn't ready yet, don't start writing. If nothing is to be
        written, stop reading or watching."""
        if isinstance(self.screen, WritingScreen):
            self.stop_writing()
        elif self.write_next is not None:
            self.write_next = None
            self.say("not written")
        elif self.session.inspection is None and self.session.status.text:
            self.stop_reading()
        else:
            self.say("nothing is running; q: quit")

    def action_undo(self) -> None:
        if not self.session.undo:
            self.say("nothing to undo")
            return
        step = self.session.undo.pop()
        step.restore()
        self.show_session()
        self.say(f"undone: {step.name}")
