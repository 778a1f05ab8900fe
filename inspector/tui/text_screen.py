"""A page of text with a title, to read and leave."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult

from inspector.tui import keys
from inspector.tui.footer import KeyFooter
from inspector.tui.glyphs import Glyphs
from inspector.tui.page import Page
from inspector.tui.rule import Rule
from inspector.tui.screen import SessionScreen
from inspector.tui.session import Session


class TextScreen(SessionScreen):
    """Help, and what came of writing."""

    BINDINGS = keys.bindings(keys.PAGE)

    def __init__(self, session: Session, glyphs: Glyphs, title: str, text: Text) -> None:
        super().__init__(session, glyphs)
        self._title = title
        self._text = text

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, self._title)
        yield Page(self._text)
        yield KeyFooter(keys.PAGE)
