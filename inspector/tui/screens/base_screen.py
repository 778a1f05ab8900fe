"""What all screens share: the session, the characters, the keys of the table, and their footer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual.app import App
from textual.screen import Screen

from inspector.tui.glyphs import Glyphs
from inspector.tui.session import Session
from inspector.tui.widgets.footer import KeyFooter


def in_thread(app: App[Any], work: Callable[[], None]) -> None:
    """Do the work in a thread. Without a description the library would write down all that the work is given, the facts
    of ten thousand frames, say, while keys wait."""
    app.run_worker(work, description="work", thread=True, exit_on_error=False)


class SessionScreen(Screen[None]):
    """Shows the session; the app calls `session_changed` when that changed."""

    def __init__(self, session: Session, glyphs: Glyphs) -> None:
        super().__init__()
        self.session = session
        self.glyphs = glyphs

    def session_changed(self) -> None:
        """Show the session as it is now."""

    def say(self, words: str) -> None:
        """Show a message in place of the keys, until the next key."""
        for footer in self.query(KeyFooter):
            footer.say(self.glyphs.text(words))

    def alarm(self, words: str) -> None:
        """Show an alarm above the keys and beside any message, until the next key."""
        for footer in self.query(KeyFooter):
            footer.alarm(self.glyphs.text(words))

    def work(self, work: Callable[[], None]) -> None:
        """Do the work in a thread; an error in it ends the program with a message, as everywhere."""
        in_thread(self.app, work)

    def action_back(self) -> None:
        self.dismiss()
