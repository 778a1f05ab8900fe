"""A screen that shows the chosen finding in full."""

from __future__ import annotations

from textual.app import ComposeResult

from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.settings import frame_text
from inspector.tui import keys
from inspector.tui.columns import title_of
from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.scene import Source, source_of
from inspector.tui.screens.frame_keys import FrameKeys
from inspector.tui.screens.viewer_screen import ViewerScreen
from inspector.tui.session import Session
from inspector.tui.widgets.card import finding_card, frame_card
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.text_page import Page


class FindingScreen(FrameKeys):
    """A screen that shows the card of the chosen finding in full. If no finding is chosen, it shows the frame's card.

    Number keys stage fixes. The keys `n` and `N` go to the next and the previous match or problem.
    """

    BINDINGS = keys.bindings(keys.FINDING)

    def __init__(self, session: Session, glyphs: Glyphs, source: Source, row: int) -> None:
        super().__init__(session, glyphs)
        self._source = source
        self._row = row

    def compose(self) -> ComposeResult:
        yield (rule := Rule(self.glyphs))
        yield Page(self.glyphs, rule)
        yield KeyFooter(keys.FINDING)

    def on_mount(self) -> None:
        self.session_changed()

    def here(self) -> tuple[SequenceView, int]:
        return self._source.view, self._row

    def go_to_row(self, row: int, *, moving: bool = False, choose: bool = True) -> None:  # noqa: ARG002 - for pictures
        self._row = row
        self.session.select_row(self._source.view, row)
        self.session_changed()

    def session_changed(self) -> None:
        session, view = self.session, self.session.view
        if view is not None and view is not self._source.view and view.rows:
            number = self._source.view.rows[self._row].number
            self._source, self._row = source_of(session, view), view.row_of_number(number)
        if view is None:
            return
        at, frame = session.selection.finding, f"frame {frame_text(view.rows[self._row].number)}"
        if at is None:  # the viewer went to a frame on which nothing was found
            title, card = frame, frame_card(view, session.all_checks, full=True)
        else:
            title = f"{title_of(view.findings[at].check)}  {frame}"
            card = finding_card(view, at, session.offers(), session.all_checks, sources=True)
        self.query_one(Rule).title = title
        self.query_one(Page).show(card)

    async def action_view(self) -> None:
        """Show the frame as a picture, with the finding marked."""
        screen = ViewerScreen(self.session, self.glyphs, self._source, self._row)
        await self.app.push_screen(screen, lambda _: self.go_to_row(self._source.view.row_of_number(screen.number)))
