"""What all screens share: the session, the characters, the keys of the table, and their footer."""

from __future__ import annotations

from collections.abc import Callable

from textual.screen import Screen

from inspector.tui.glyphs import Glyphs
from inspector.tui.session import Session


class SessionScreen(Screen[None]):
    """Shows the session; the app tells it when that changed."""

    def __init__(self, session: Session, glyphs: Glyphs) -> None:
        super().__init__()
        self.session = session
        self.glyphs = glyphs

    def session_changed(self) -> None:
        """Show the session as it is now."""

    def say(self, words: str) -> None:
        """Words that stand until the next key, where the screen has a place for them."""

    def work(self, work: Callable[[], None]) -> None:
        """Do the work in a thread; an error in it ends the program with words, as everywhere."""
        self.app.run_worker(work, thread=True, exit_on_error=False)

    def action_back(self) -> None:
        self.dismiss()
