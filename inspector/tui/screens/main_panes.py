"""What stands on the main screen: sequences, strip, frames, findings, card and plot, all showing one session."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Container, Vertical

from inspector.names import safe
from inspector.report.curves import PANELS
from inspector.sequence.discovery.settings import frame_text
from inspector.tui import keys
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.styles import counted
from inspector.tui.widgets.band_plot import BandPlot
from inspector.tui.widgets.card import finding_card, frame_card
from inspector.tui.widgets.columns import title_of
from inspector.tui.widgets.finding_list import FindingList
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.frame_table import FrameTable
from inspector.tui.widgets.overview import Overview
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.sequence_list import SequenceList
from inspector.tui.widgets.text_page import Page
from inspector.tui.widgets.title import Title, state_words


class MainPanes(SessionScreen):
    """The frame under the table's cursor is the session's."""

    AUTO_FOCUS = "FrameTable"

    def compose(self) -> ComposeResult:
        yield Title(self.glyphs, safe(str(self.session.root)))
        yield SequenceList(self.glyphs)
        yield Overview(self.glyphs)
        with Container(id="panes"):
            yield FrameTable(self.glyphs)
            with Vertical(id="findings-pane"):
                yield Rule(self.glyphs, id="findings-rule")
                yield FindingList(self.glyphs)
            with Vertical(id="card-pane"):
                yield (rule := Rule(self.glyphs, id="card-rule"))
                yield Page(self.glyphs, rule, more="enter: more", id="card", can_focus=False)
            with Vertical(id="plot-pane"):
                yield Rule(self.glyphs, id="plot-rule")
                yield BandPlot(self.glyphs)
        yield KeyFooter(keys.MAIN)

    def on_mount(self) -> None:
        self.table = self.query_one(FrameTable)
        self._shown: object = None
        self.session_changed()

    def session_changed(self) -> None:
        session = self.session
        self.query_one(Title).show(state_words(session))
        sequences = self.query_one(SequenceList)
        others = session.inspection.not_sequences if session.inspection else ()
        sequences.show(session.views, others, checking=session.checking)
        sequences.put_cursor(session.at)
        sequences.can_focus = len(session.views) > 1
        if session.view is None:
            return
        marks = tuple(session.marked(session.view))
        shown = (session.view, session.arrangement, marks)
        if shown != self._shown:
            returned = session.row if self._shown is None else None
            self._shown = shown
            follows = session.live and 0 < self.table.row_count() == self.table.cursor + 1
            self.table.show(*shown)
            if returned is not None:
                self.table.go_to(returned)
            if follows:
                self.table.action_edge(1)
            if session.chosen is None:
                self.choose_for_row()
        self.show_place()

    def show_place(self) -> None:
        """Everything that depends on the frame under the cursor and on the chosen finding."""
        session, row = self.session, self.table.frame_row
        view = session.view
        if view is None:
            return
        if row is not None and self.is_current:
            session.stand_on(view, row)
        rows = self.table.rows_on_screen
        session.on_screen = (session.at, rows.start, rows.stop)
        self.query_one(Overview).show(view, row, session.chosen, session.arrangement.words)
        self.query_one(FindingList).show(view, session.chosen, session.answered())
        here = len(view.on_row(row)) if row is not None else 0
        rule = self.query_one("#findings-rule", Rule)
        rule.title = counted(len(view.findings), ("finding", "findings"))
        rule.note = f"{here} on this frame" if self.has_class("-wide") else f"{here} here"
        if session.chosen is None:
            number = "" if row is None else frame_text(view.rows[row].number)
            card, title = frame_card(view, session.all_checks), f"frame {number}"
        else:
            card = finding_card(view, session.chosen, session.offers(), session.all_checks)
            title = title_of(view.findings[session.chosen].check)
        self.query_one("#card", Page).show(card)
        self.query_one("#card-rule", Rule).title = title
        self.query_one(BandPlot).show(view, row, session.panel)
        self.query_one("#plot-rule", Rule).title = PANELS[session.panel].title

    def choose_for_row(self) -> None:
        """The finding that goes with the frame under the cursor."""
        self.session.choose_for(self.table.frame_row)

    def go_to_finding(self) -> None:
        """Put the frame cursor on the first frame of the chosen finding, unless it stands on one of them."""
        view, chosen = self.session.view, self.session.chosen
        if view is None or chosen is None:
            return
        rows = view.rows_by_finding[chosen].tolist()
        if rows and self.table.frame_row not in rows and not self.table.go_to(rows[0]):
            self.say("the filter hides the frames of this finding (f)")

    def say(self, words: str) -> None:
        self.query_one(Title).say(words)
