"""The result of writing: before and after, and what to do next."""

from __future__ import annotations

from textual.app import ComposeResult

from inspector.delivery.deliver import Delivery
from inspector.tui import keys
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.session import Session
from inspector.tui.widgets.delivery_text import delivery_card, delivery_title
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.text_page import Page


class WrittenScreen(SessionScreen):
    """A screen that shows the delivery in words. The key `c` compares each frame with its corrected version.

    Args:
        session: The open folder.
        glyphs: The characters that the terminal can show.
        delivery: The delivery.
    """

    BINDINGS = keys.bindings(keys.WRITTEN)

    def __init__(self, session: Session, glyphs: Glyphs, delivery: Delivery) -> None:
        super().__init__(session, glyphs)
        self._delivery = delivery

    def compose(self) -> ComposeResult:
        yield (rule := Rule(self.glyphs, delivery_title(self._delivery)))
        yield Page(self.glyphs, rule, delivery_card(self._delivery))
        yield KeyFooter(keys.WRITTEN)

    async def action_compare(self) -> None:
        """Compare the frame under the cursor with its corrected version."""
        self.dismiss()
        for screen in self.app.screen_stack:
            if isinstance(screen, MainScreen):
                await screen.compare_with_corrected(self._delivery.out)
