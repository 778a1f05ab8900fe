"""The result of writing: the findings before and after, and the verification."""

from __future__ import annotations

from textual.app import ComposeResult

from inspector.delivery.deliver import Delivery
from inspector.tui import keys
from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.comparison_frames import corrected
from inspector.tui.pictures.scene import source_of
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.session import Session
from inspector.tui.widgets.delivery_text import delivery_card, delivery_title
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.text_page import Page


class WrittenScreen(SessionScreen):
    """A screen that shows the delivery in words. The key `c` compares each frame with its corrected version."""

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
        from inspector.tui.screens.opened import CompareScreen

        session, out = self.session, self._delivery.out
        view, row = session.view, session.row
        if view is None or row is None:
            self.say("there is no frame to show")
            return
        against = corrected(view, session.root, out, session.settings.textures)
        screen = CompareScreen(session, self.glyphs, source_of(session, view), row, against)
        await self.app.push_screen(screen, lambda _: self._come_back())

    def _come_back(self) -> None:
        """Put the cursors of all open screens on the frame that the comparison showed."""
        for screen in self.app.screen_stack:
            if isinstance(screen, SessionScreen):
                screen.follow()
