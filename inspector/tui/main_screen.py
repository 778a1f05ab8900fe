"""The main screen: sequences, strip, frames, findings, card and plot, all showing one session."""

from __future__ import annotations

from dataclasses import replace

from textual.app import ComposeResult
from textual.containers import Container, Vertical

from inspector.names import safe
from inspector.sequence.settings import frame_text
from inspector.tui import keys
from inspector.tui.card import finding_card, frame_card
from inspector.tui.choice import ChoiceDrawer
from inspector.tui.columns import COLUMNS, FILTERS, title_of
from inspector.tui.cursor_list import CursorList
from inspector.tui.drift_plot import QUANTITIES, DriftPlot
from inspector.tui.finding_list import FindingList
from inspector.tui.finding_screen import FindingScreen
from inspector.tui.footer import KeyFooter
from inspector.tui.frame_table import FrameTable
from inspector.tui.go_to import frame_at, number_fault
from inspector.tui.messages import ReferenceChosen
from inspector.tui.overview import Overview
from inspector.tui.page import Page
from inspector.tui.problems import next_stop, stops
from inspector.tui.prompt import Field, Prompt, Values
from inspector.tui.rule import Rule
from inspector.tui.screen import SessionScreen
from inspector.tui.sequence_list import SequenceList
from inspector.tui.styles import counted
from inspector.tui.title import Title, state_words


class MainScreen(SessionScreen):
    """The frame cursor and the chosen finding follow each other."""

    BINDINGS = keys.bindings(keys.MAIN)
    AUTO_FOCUS = "FrameTable"
    _quantity = 0

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
                yield Rule(self.glyphs, id="card-rule")
                yield Page(self.glyphs, id="card", can_focus=False)
            with Vertical(id="plot-pane"):
                yield Rule(self.glyphs, id="plot-rule")
                yield DriftPlot(self.glyphs)
        yield KeyFooter(keys.MAIN)

    def on_mount(self) -> None:
        self._table = self.query_one(FrameTable)
        self._shown: object = None
        self.session_changed()

    def session_changed(self) -> None:
        session = self.session
        self.query_one(Title).show(state_words(session))
        sequences = self.query_one(SequenceList)
        sequences.show(session.views, session.inspection.not_sequences if session.inspection else ())
        sequences.put_cursor(session.at)
        sequences.can_focus = len(session.views) > 1
        if session.view is None:
            return
        shown = (session.view, session.arrangement)
        if shown != self._shown:
            self._shown = shown
            self._table.show(*shown)
            if session.chosen is None:
                self._choose_for_row()
        self._show_place()

    def _show_place(self) -> None:
        """Everything that depends on the frame under the cursor and on the chosen finding."""
        session, row = self.session, self._table.frame_row
        view = session.view
        if view is None:
            return
        self.query_one(Overview).show(view, row, session.chosen, session.arrangement.words)
        self.query_one(FindingList).show(view, session.chosen, session.answered())
        here = len(view.on_row(row)) if row is not None else 0
        rule = self.query_one("#findings-rule", Rule)
        rule.title = counted(len(view.findings), ("finding", "findings"))
        rule.note = f"{here} on this frame" if self.has_class("-wide") else f"{here} here"
        if session.chosen is None:
            number = "" if row is None else frame_text(view.rows[row].number)
            card, title = frame_card(view), f"frame {number}"
        else:
            card = finding_card(view, session.chosen, session.offers())
            title = title_of(view.findings[session.chosen].check)
        self.query_one("#card", Page).show(card)
        self.query_one("#card-rule", Rule).title = title
        self.query_one(DriftPlot).show(view, row, self._quantity)
        plot_rule = self.query_one("#plot-rule", Rule)
        plot_rule.title = QUANTITIES[self._quantity].title
        plot_rule.note = "" if row is None else f"frame {frame_text(view.rows[row].number)}"

    def _choose_for_row(self) -> None:
        """Keep the chosen finding where it touches the frame under the cursor; else take that frame's worst."""
        view, row = self.session.view, self._table.frame_row
        here = view.on_row(row) if view and row is not None else []
        if self.session.chosen not in here:
            self.session.chosen = here[0] if here else None

    def _go_to_finding(self) -> None:
        """Put the frame cursor on the first frame of the chosen finding, unless it stands on one of them."""
        view, chosen = self.session.view, self.session.chosen
        if view is None or chosen is None:
            return
        rows = view.rows_by_finding[chosen].tolist()
        if rows and self._table.frame_row not in rows and not self._table.go_to(rows[0]):
            self.say("the filter hides the frames of this finding (f)")

    def on_cursor_list_moved(self, event: CursorList.Moved) -> None:
        session = self.session
        if isinstance(event.source, SequenceList):
            session.at, session.chosen = event.source.cursor, None
            self.session_changed()
            return
        if isinstance(event.source, FindingList):
            session.chosen = event.source.cursor
            self._go_to_finding()
        else:
            self._choose_for_row()
        self._show_place()

    def say(self, words: str) -> None:
        self.query_one(Title).say(words)

    def action_problem(self, way: int) -> None:
        view = self.session.view
        if view is None:
            return
        stop = next_stop(stops(view, self._table.order), self._table.cursor, self.session.chosen, way)
        if stop is None:
            self.say("no further problem this way")
            return
        self._table.put_cursor(stop[0])
        self.session.chosen = stop[1]
        self._show_place()

    def action_strip(self, way: int) -> None:
        row = self._table.frame_row
        if row is not None:
            self._go_to_row(self.query_one(Overview).neighbour(row, way))

    def _go_to_row(self, row: int) -> None:
        if not self._table.go_to(row):
            self.say("the filter hides this frame (f)")
        self._choose_for_row()
        self._show_place()

    async def action_read(self) -> None:
        if self.session.chosen is not None:
            await self.app.push_screen(FindingScreen(self.session, self.glyphs))

    async def action_filter(self) -> None:
        def done(answer: int | None) -> None:
            if answer is not None:
                self.session.arrangement = replace(self.session.arrangement, filter=answer)
                self.session_changed()

        lines = [words for words, _ in FILTERS]
        await self.app.push_screen(ChoiceDrawer(self.glyphs, "show", lines, self.session.arrangement.filter), done)

    async def action_sort(self) -> None:
        def done(answer: int | None) -> None:
            if answer is not None:
                self.session.arrangement = self.session.arrangement.by(answer)
                self.session_changed()

        lines = [column.title for column in COLUMNS]
        title = "sort by; the column that is sorted by already: the other way round"
        await self.app.push_screen(ChoiceDrawer(self.glyphs, title, lines, self.session.arrangement.column), done)

    async def action_go(self) -> None:
        def done(values: Values | None) -> None:
            if values and self.session.view is not None:
                self._go_to_row(frame_at(self.session.view, values["frame"]))

        await self.app.push_screen(Prompt(self.glyphs, "go to a frame", [Field("frame")], number_fault), done)

    def action_drift(self) -> None:
        """Wide: the next quantity. Narrow: the plot takes the lower panes, shows each quantity, and goes again."""
        if self.has_class("-narrow") and not self.has_class("-plot"):
            self.add_class("-plot")
            self._table.focus()
        else:
            self._quantity = (self._quantity + 1) % len(QUANTITIES)
            if self._quantity == 0:
                self.remove_class("-plot")
        self._show_place()

    def action_reference(self) -> None:
        view, row = self.session.view, self._table.frame_row
        facts = view.facts_of(row) if view is not None and row is not None else None
        if facts is None or not facts.readable:
            self.say("only a frame that can be read can be the reference")
        else:
            self.post_message(ReferenceChosen(facts.number))
