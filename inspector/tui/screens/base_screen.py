"""What all screens share: the session, the characters, the keys of the table, and their footer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual.app import App
from textual.screen import Screen

from inspector.tui.glyphs import Glyphs
from inspector.tui.session import Session


def in_thread(app: App[Any], work: Callable[[], None]) -> None:
    """Do the work in a thread. Without a description the library would write down all that the work is given, the facts
    of ten thousand frames, say, while keys wait."""
    app.run_worker(work, description="work", thread=True, exit_on_error=False)


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
        in_thread(self.app, work)

    def action_back(self) -> None:
        self.dismiss()
