"""A page of text with a title."""

from __future__ import annotations

from textual.app import ComposeResult

from inspector.tui import keys
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.session import Session
from inspector.tui.widgets.card import Card
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.text_page import Page


class TextScreen(SessionScreen):
    """A screen that shows a card, such as the help."""

    BINDINGS = keys.bindings(keys.PAGE)

    def __init__(self, session: Session, glyphs: Glyphs, title: str, card: Card) -> None:
        super().__init__(session, glyphs)
        self._title = title
        self._card = card

    def compose(self) -> ComposeResult:
        yield (rule := Rule(self.glyphs, self._title))
        yield Page(self.glyphs, rule, self._card)
        yield KeyFooter(keys.PAGE)
