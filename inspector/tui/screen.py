"""What all screens share: the session, the characters, the keys of the table, and their footer."""

from __future__ import annotations

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

    def action_back(self) -> None:
        self.dismiss()
