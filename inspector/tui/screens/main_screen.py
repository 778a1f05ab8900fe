"""The main screen: its panes, and what the keys do there."""

from __future__ import annotations

from dataclasses import replace

from inspector.tui import keys
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.drawers.go_to import frame_at, number_fault
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.problems import NO_MORE, next_stop, stops
from inspector.tui.screens.finding_screen import FindingScreen
from inspector.tui.screens.main_looks import MainLooks
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.widgets.card import frame_card
from inspector.tui.widgets.columns import COLUMNS, FILTERS
from inspector.tui.widgets.cursor_list import CursorList
from inspector.tui.widgets.finding_list import FindingList
from inspector.tui.widgets.overview import Overview
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.sequence_list import SequenceList
from inspector.tui.workers.messages import ReferenceChosen


class MainScreen(MainLooks):
    """The frame cursor and the chosen finding follow each other."""

    BINDINGS = keys.bindings(keys.MAIN)

    def on_cursor_list_moved(self, event: CursorList.Moved) -> None:
        session = self.session
        if isinstance(event.source, SequenceList):
            session.at, session.chosen = event.source.cursor, None
            self.session_changed()
            return
        if isinstance(event.source, FindingList):
            session.chosen = event.source.cursor
            self.go_to_finding()
        else:
            self.choose_for_row()
        self.show_place()

    def action_problem(self, way: int) -> None:
        self._next_stop(way, None)

    def action_same_check(self, way: int) -> None:
        if self.session.finding is None:
            self.say("no finding is chosen here")
        else:
            self._next_stop(way, self.session.finding.check)

    def _next_stop(self, way: int, check: str | None) -> None:
        view = self.session.view
        if view is None:
            return
        stop = next_stop(stops(view, self.table.order, check), self.table.cursor, self.session.chosen, way)
        if stop is None:
            self.say(NO_MORE[way] if check is None else "this check found no more this way")
            return
        self.table.put_cursor(stop[0])
        self.session.chosen = stop[1]
        self.show_place()

    def action_mark(self) -> None:
        view, row = self.session.view, self.table.frame_row
        if view is not None and row is not None:
            self.session.mark(view, row)
            self.session_changed()

    def action_next_mark(self) -> None:
        view, row = self.session.view, self.table.frame_row
        marked = None if view is None or row is None else self.session.next_mark(view, row)
        if marked is None:
            self.say("no frame is marked (k)")
        else:
            self.go_to_row(marked)

    def action_strip(self, way: int) -> None:
        row = self.table.frame_row
        if row is not None:
            self.go_to_row(self.query_one(Overview).neighbour(row, way))

    def go_to_row(self, row: int) -> None:
        if not self.table.go_to(row):
            self.say("the filter hides this frame (f)")
        self.choose_for_row()
        self.show_place()

    async def action_read(self) -> None:
        """The card in full: the finding's, or the frame's where none is chosen."""
        if self.session.chosen is not None:
            await self.app.push_screen(FindingScreen(self.session, self.glyphs))
        elif self.session.view is not None:
            title = self.query_one("#card-rule", Rule).title
            card = frame_card(self.session.view, self.session.all_checks)
            await self.app.push_screen(TextScreen(self.session, self.glyphs, title, card))

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
        title = "sort the table by; the same column again turns the order round"
        await self.app.push_screen(ChoiceDrawer(self.glyphs, title, lines, self.session.arrangement.column), done)

    async def action_go(self) -> None:
        def done(values: Values | None) -> None:
            if values and self.session.view is not None:
                row, words = frame_at(self.session.view, values["frame"])
                self.say(words)
                self.go_to_row(row)

        await self.app.push_screen(Prompt(self.glyphs, "go to a frame", [Field("frame")], number_fault), done)

    def action_reference(self) -> None:
        view, row = self.session.view, self.table.frame_row
        facts = view.facts_of(row) if view is not None and row is not None else None
        if facts is None or not facts.readable:
            self.say("only a frame that can be read can be the reference")
        else:
            self.post_message(ReferenceChosen(facts.number))
