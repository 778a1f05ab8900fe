"""The main screen: the sequences, the strip, the frames, the findings, the card and the curves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.screen import Screen

from inspector.names import counted, safe
from inspector.report.curves import PANELS
from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.settings import frame_text
from inspector.tui import keys
from inspector.tui.columns import COLUMNS, FILTERS, title_of
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.drawers.output_folder import OutputFolder
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.pictures.comparison_frames import Against, corrected, fixed_frame, frame_before
from inspector.tui.pictures.scene import Source, source_of
from inspector.tui.screens.frame_keys import FrameKeys
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.widgets.band_plot import BandPlot
from inspector.tui.widgets.card import Card, finding_card, folder_card, frame_card, waiting_card
from inspector.tui.widgets.cursor_list import CursorList
from inspector.tui.widgets.finding_list import FindingList
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.frame_table import FrameTable
from inspector.tui.widgets.overview import Overview
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.sequence_list import SequenceList
from inspector.tui.widgets.shared_row import SharedRow
from inspector.tui.widgets.text_page import Page
from inspector.tui.widgets.title import Title, about_words, state_words
from inspector.tui.workers.messages import ReferenceChosen

Open = Callable[[SequenceView, int], Screen[None]]


class MainScreen(FrameKeys):
    """The main screen.

    If the frame cursor moves, a finding of the new frame is chosen. If the user chooses a finding, the frame cursor
    goes to the first frame of that finding, unless the current frame already has the finding.
    """

    BINDINGS = keys.bindings(keys.MAIN)
    AUTO_FOCUS = "FrameTable"

    def compose(self) -> ComposeResult:
        yield Title(self.glyphs, safe(str(self.session.root)))
        yield SequenceList(self.glyphs)
        yield SharedRow(self.glyphs)
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

    # Showing the session

    def session_changed(self) -> None:
        session = self.session
        self.query_one(Title).show(state_words(session), about_words(session))
        sequences = self.query_one(SequenceList)
        others = session.inspection.not_sequences if session.inspection else ()
        sequences.show(session.views, others, checking=session.status.checking)
        sequences.put_cursor(session.selection.sequence)
        sequences.can_focus = len(session.views) > 1
        sequences.display = len(session.views) > 1 or bool(others)
        self.query_one(SharedRow).show(session.views, session.view)
        live = keys.MAIN_LIVE if session.status.live else keys.MAIN
        empty = session.view is None and not session.status.text
        self.query_one(KeyFooter).offer(keys.MAIN_EMPTY if empty else live)
        self.set_class(session.view is None, "-empty")
        if session.view is None:
            self._show_empty()
            return
        marks = tuple(session.marked(session.view))
        shown = (session.view, session.view_state.arrangement, marks)
        if shown != self._shown:
            returned = session.row if self._shown is None else None
            self._shown = shown
            follows = session.status.live and 0 < self.table.row_count() == self.table.cursor + 1
            self.table.show(*shown)
            if returned is not None:
                self.table.go_to(returned)
            if follows:
                self.table.action_edge(1)
            if session.selection.finding is None:
                self._choose_for_row()
            self._begin_at_worst(session.view)
        self.show_place()

    def _begin_at_worst(self, view: SequenceView) -> None:
        """Put the frame cursor on the first frame of the worst finding.

        After the sequence has been read, the cursor stays where it is if it has already been moved. After the user has
        stated a range or a size, the cursor stays where it is if a finding of the frame under the cursor is chosen.
        """
        session = self.session
        if view.inspection is None or session.status.live or session.status.checking:
            return
        goes = (session.fresh and self.table.cursor == 0) or (session.stated and session.selection.finding is None)
        session.fresh = session.stated = False
        row = view.worst_row()
        if goes and row is not None and self.table.go_to(row):
            session.selection.finding = None
            self._choose_for_row()

    def _show_empty(self) -> None:
        """Show why there is no sequence, and what to do."""
        if self.query("#card"):  # it is mounted after this screen
            title, card = self._empty_card()
            self.query_one("#card", Page).show(card)
            self.query_one("#card-rule", Rule).title = title

    def _empty_card(self) -> tuple[str, Card]:
        """Return the title and the card to show if there is no frame. Until the folder is listed, the card is empty."""
        if self.session.inspection is not None:
            return "nothing to inspect", folder_card(self.session.inspection)
        return ("live", waiting_card()) if self.session.status.live else ("", Card())

    def show_place(self) -> None:
        """Show everything that depends on the frame under the cursor and on the chosen finding."""
        session, row = self.session, self.table.frame_row
        view, chosen = session.view, session.selection.finding
        if view is None:
            return
        if row is not None and self.is_current:
            session.select_row(view, row)
        rows = self.table.rows_on_screen
        session.on_screen = (session.selection.sequence, rows.start, rows.stop)
        self.query_one(Overview).show(view, row, chosen, session.view_state.arrangement.words)
        self.query_one(FindingList).show(view, chosen, session.answered())
        here = len(view.on_row(row)) if row is not None else 0
        rule = self.query_one("#findings-rule", Rule)
        rule.title, rule.note = "findings", ""
        if view.inspection is not None:
            rule.title = counted(len(view.findings), "finding")
            rule.note = "" if row is None else f"{here} on frame {frame_text(view.rows[row].number)}"
        if chosen is None:
            title = "no frame" if row is None else f"frame {frame_text(view.rows[row].number)}"
            card = frame_card(view, session.all_checks)
        else:
            card = finding_card(view, chosen, session.offers(), session.all_checks)
            title = title_of(view.findings[chosen].check)
        self.query_one("#card", Page).show(card)
        self.query_one("#card-rule", Rule).title = title
        self.query_one(BandPlot).show(view, row, session.view_state.panel)
        self.query_one("#plot-rule", Rule).title = PANELS[session.view_state.panel].title

    def _choose_for_row(self) -> None:
        self.session.choose_for(self.table.frame_row)

    # The cursors

    def here(self) -> tuple[SequenceView, int] | None:
        view, row = self.session.view, self.table.frame_row
        return None if view is None or row is None else (view, row)

    def shown_rows(self, view: SequenceView) -> Sequence[int]:  # noqa: ARG002 - the table's view is the session's
        return self.table.order

    def go_to_row(self, row: int, *, moving: bool = False, choose: bool = True) -> None:  # noqa: ARG002 - for pictures
        if not self.table.go_to(row):
            self.say("the filter hides this frame; f: change the filter")
        if choose:
            self._choose_for_row()
        self.show_place()

    def on_cursor_list_moved(self, event: CursorList.Moved) -> None:
        selection = self.session.selection
        if isinstance(event.source, SequenceList):
            selection.sequence, selection.finding = event.source.cursor, None
            self.session_changed()
            return
        if isinstance(event.source, FindingList):
            selection.finding = event.source.finding
            self._go_to_finding()
        else:
            self._choose_for_row()
        self.show_place()

    def _go_to_finding(self) -> None:
        """Put the frame cursor on the first frame of the chosen finding, unless it is already on a frame of that
        finding."""
        view, chosen = self.session.view, self.session.selection.finding
        if view is None or chosen is None:
            return
        rows = view.rows_by_finding[chosen].tolist()
        if rows and self.table.frame_row not in rows and not self.table.go_to(rows[0]):
            self.say("the filter hides the frames of this finding; f: change the filter")

    def action_strip(self, step: int) -> None:
        row = self.table.frame_row
        if row is not None:
            self.go_to_row(self.query_one(Overview).neighbour(row, step))

    # Drawers

    async def action_filter(self) -> None:
        """Filter the frames by severity, or by a check that has findings."""
        session, arrangement = self.session, self.session.view_state.arrangement
        found = session.view.findings if session.view else ()
        checks = sorted({finding.check for finding in found}, key=title_of)
        choices = [(one.id, "") for one in FILTERS] + [("all", check) for check in checks]

        def done(answer: int | None) -> None:
            if answer is not None:
                session.arrange(replace(arrangement, filter=choices[answer][0], check=choices[answer][1]))
                self.session_changed()

        now = (arrangement.filter, arrangement.check)
        lines = [one.words for one in FILTERS] + [f"only {title_of(check)}" for check in checks]
        drawer = ChoiceDrawer(self.glyphs, "show", lines, choices.index(now) if now in choices else 0)
        await self.app.push_screen(drawer, done)

    async def action_sort(self) -> None:
        session = self.session
        ids = [column.id for column in COLUMNS]

        def done(answer: int | None) -> None:
            if answer is not None:
                session.arrange(session.view_state.arrangement.by(ids[answer]))
                self.session_changed()

        title = "sort by (choose the same column again to reverse the order)"
        now = ids.index(session.view_state.arrangement.column)
        letters = [column.letter for column in COLUMNS]
        lines = [f"{column.title:<7}  {column.meaning}" for column in COLUMNS]
        await self.app.push_screen(ChoiceDrawer(self.glyphs, title, lines, now, letters), done)

    async def action_reference(self) -> None:
        """Make the frame under the cursor the reference frame. Ask the user first, because all findings may change."""
        here = self.here()
        facts = None if here is None else here[0].facts_of(here[1])
        if facts is None or not facts.filled:
            self.say("the reference frame must be readable; choose another frame")
            return
        number = facts.number

        def done(answer: int | None) -> None:
            if answer == 0:
                self.post_message(ReferenceChosen(number))

        lines = [f"make frame {frame_text(number)} the reference frame", "cancel"]
        title = "compare all frames with this frame? findings may change; u: undo"
        await self.app.push_screen(ChoiceDrawer(self.glyphs, title, lines, 1), done)

    # Other screens

    async def action_read(self) -> None:
        """Show in full the card of the chosen finding; if no finding is chosen, the card of the frame; if there are no
        frames, the card of the folder."""
        from inspector.tui.screens.opened import FindingScreen

        session = self.session
        if session.selection.finding is not None:
            await self._look_with(lambda view, row: FindingScreen(session, self.glyphs, self._source(view), row))
        else:
            title, card = self._empty_card()
            if session.view is not None:
                title = self.query_one("#card-rule", Rule).title
                card = frame_card(session.view, session.all_checks, full=True)
            if card.paragraphs:
                await self.app.push_screen(TextScreen(session, self.glyphs, title, card))

    async def action_view(self) -> None:
        from inspector.tui.screens.opened import ViewerScreen

        await self._look_with(lambda view, row: ViewerScreen(self.session, self.glyphs, self._source(view), row))

    async def action_uv_map(self) -> None:
        from inspector.tui.screens.opened import UvScreen

        await self._look_with(lambda view, row: UvScreen(self.session, self.glyphs, self._source(view), row))

    async def action_plots(self) -> None:
        from inspector.tui.screens.opened import PlotsScreen

        await self._look_with(lambda view, row: PlotsScreen(self.session, self.glyphs, view, row))

    async def action_fit(self) -> None:
        """Show which texture and lettering fit the sequence, if the sequence has been checked."""
        from inspector.tui.screens.opened import FitScreen

        view = self.session.view
        if view is None or view.series is None:
            self.say("the sequence is not checked yet")
        else:
            await self.app.push_screen(FitScreen(self.session, self.glyphs, view.series))

    def _source(self, view: SequenceView) -> Source:
        return source_of(self.session, view)

    async def _look_with(self, open_screen: Open) -> None:
        here = self.here()
        if here is None:
            self.say("there is no frame to show")
        else:
            await self.app.push_screen(open_screen(*here), lambda _: self._come_back())

    def _come_back(self) -> None:
        """Put the cursor on the frame that the closed screen showed."""
        frame = self.session.selection.frame
        self.session_changed()
        view = self.session.view
        row = None if view is None or frame is None else view.row_at(frame)
        if row is not None and row != self.table.frame_row:
            self.go_to_row(row)

    async def action_compare(self) -> None:
        """Compare the frame under the cursor with another frame, which the user chooses first."""
        here = self.here()
        if here is None:
            self.say("there is no frame to show")
            return
        source, row = self._source(here[0]), here[1]  # a watched export may have other rows afterwards
        others = self._others(source)

        async def done(answer: int | None) -> None:
            if answer is None:
                return
            if answer < len(others):
                await self._compare(source, row, others[answer])
            else:
                await self._ask_for_corrected()

        lines = [*(other.words for other in others), "the same frame in a corrected folder"]
        await self.app.push_screen(ChoiceDrawer(self.glyphs, "compare with", lines), done)

    def _others(self, source: Source) -> list[Against]:
        """Return the frames to compare with: the frame that was marked last and the reference frame, if they exist, and
        the previous frame."""
        view = source.view
        marked = [rows[0] for number in self.session.marked(view) if (rows := view.rows_by_number.get(number))]
        others = [fixed_frame(source, marked[-1], "marked frame")] if marked else []
        if view.series is not None and view.series.reference_index is not None:
            number = view.facts[view.series.reference_index].number
            others.append(fixed_frame(source, view.rows_by_number[number][0], "reference frame"))
        return [*others, frame_before(source)]

    async def _ask_for_corrected(self) -> None:
        root = self.session.root
        folder = OutputFolder(self.session.staged.written_to or root.with_name(f"{root.name}_fixed"))

        def fault(values: Values) -> str | None:
            typed = values["folder"]
            return None if typed and folder.typed(typed).is_dir() else "not a folder"

        async def done(values: Values | None) -> None:
            here = self.here()
            if values is not None and here is not None:
                source, row = self._source(here[0]), here[1]
                out = folder.typed(values["folder"])
                await self._compare(source, row, corrected(source.view, root, out, self.session.settings.textures))

        fields = [Field("folder", value=folder.shown)]
        title = "compare with a corrected folder"
        await self.app.push_screen(Prompt(self.glyphs, title, fields, fault, paths=Path.cwd()), done)

    async def action_compare_export(self) -> None:
        """Compare the whole export with the previous export, whose folder the user types."""
        from inspector.tui.screens.opened import ExportScreen
        from inspector.tui.workers.export_engine import export_before

        session = self.session
        if session.inspection is None:
            self.say(f"exports can be compared {session.all_checks}")
            return
        base = session.root.parent
        before = export_before(session.root)
        shown = "" if before is None else safe(str(before))

        def chosen(values: Values) -> Path:
            typed = values["folder"]
            return before if before is not None and typed == shown else base / Path(typed).expanduser()

        def fault(values: Values) -> str | None:
            if not values["folder"] or not chosen(values).is_dir():
                return "not a folder"
            return (
                "this is the open export; choose another folder" if chosen(values).resolve() == session.root else None
            )

        async def done(values: Values | None) -> None:
            if values is not None:
                await self.app.push_screen(ExportScreen(session, self.glyphs, chosen(values)))

        fields = [Field("folder", f"relative paths start at {base}", shown)]
        title = "compare with the previous export"
        await self.app.push_screen(Prompt(self.glyphs, title, fields, fault, paths=base), done)

    async def _compare(self, source: Source, row: int, against: Against) -> None:
        from inspector.tui.screens.opened import CompareScreen

        screen = CompareScreen(self.session, self.glyphs, source, row, against)
        await self.app.push_screen(screen, lambda _: self._come_back())
