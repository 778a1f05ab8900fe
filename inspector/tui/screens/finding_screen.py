"""The chosen finding on a screen of its own."""

from __future__ import annotations

from textual.app import ComposeResult

from inspector.tui import keys
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.widgets.card import finding_card
from inspector.tui.widgets.columns import title_of
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.text_page import Page


class FindingScreen(SessionScreen):
    """The card at full size; number keys stage its fixes as on the main screen."""

    BINDINGS = keys.bindings(keys.FINDING)

    def compose(self) -> ComposeResult:
        yield (rule := Rule(self.glyphs))
        yield Page(self.glyphs, rule)
        yield KeyFooter(keys.FINDING)

    def on_mount(self) -> None:
        self.session_changed()

    def session_changed(self) -> None:
        session = self.session
        view = session.view
        if view is None or session.chosen is None:
            return
        self.query_one(Rule).title = title_of(view.findings[session.chosen].check)
        self.query_one(Page).show(finding_card(view, session.chosen, session.offers(), session.all_checks))
