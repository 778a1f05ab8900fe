"""The screens that look closer at the frame under the cursor, opened from the main screen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from textual.screen import Screen

from inspector.report.frame_rows import SequenceView
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.drawers.output_folder import OutputFolder
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.pictures.comparison_frames import Against, corrected, fixed_frame, frame_before
from inspector.tui.pictures.scene import Source, source_of
from inspector.tui.screens.compare_screen import CompareScreen
from inspector.tui.screens.fit_screen import FitScreen
from inspector.tui.screens.main_panes import MainPanes
from inspector.tui.screens.plots_screen import PlotsScreen
from inspector.tui.screens.uv_screen import UvScreen
from inspector.tui.screens.viewer_screen import ViewerScreen

Open = Callable[[SequenceView, int], Screen[None]]


class MainLooks(MainPanes):
    """The cursor goes where such a screen was left."""

    def go_to_row(self, row: int) -> None:
        """Put the table's cursor on a row of the view."""
        raise NotImplementedError

    async def action_view(self) -> None:
        """The frame under the cursor as a picture."""
        await self._look_with(lambda view, row: ViewerScreen(self.session, self.glyphs, self._source(view), row))

    async def action_uv_map(self) -> None:
        await self._look_with(lambda view, row: UvScreen(self.session, self.glyphs, self._source(view), row))

    async def action_plots(self) -> None:
        await self._look_with(lambda view, row: PlotsScreen(self.session, self.glyphs, view, row))

    async def action_fit(self) -> None:
        """What the surface wants of its texture; once the sequence is checked."""
        view = self.session.view
        if view is None or view.series is None:
            self.say("not checked yet")
        else:
            await self.app.push_screen(FitScreen(self.session, self.glyphs, view.series))

    def _source(self, view: SequenceView) -> Source:
        return source_of(self.session, view)

    async def _look_with(self, open_screen: Open) -> None:
        view, row = self.session.view, self.table.frame_row
        if view is None or row is None:
            self.say("no frame to look at")
        else:
            await self.app.push_screen(open_screen(view, row), lambda _: self._come_back())

    def _come_back(self) -> None:
        place = self.session.place
        self.session_changed()
        view = self.session.view
        row = None if view is None or place is None else view.row_at(place)
        if row is not None and row != self.table.frame_row:
            self.go_to_row(row)

    async def action_compare(self) -> None:
        """Hold the frame under the cursor against another one, that is chosen first."""
        view, row = self.session.view, self.table.frame_row
        if view is None or row is None:
            self.say("no frame to look at")
            return
        source = self._source(view)
        ones = self._others(source)

        async def done(answer: int | None) -> None:
            if answer is None:
                return
            if answer < len(ones):
                await self._compare(source, ones[answer])
            else:
                await self._ask_for_corrected(source)

        lines = [*(one.words for one in ones), "the same frame of a corrected folder"]
        await self.app.push_screen(ChoiceDrawer(self.glyphs, "compare with", lines), done)

    def _others(self, source: Source) -> list[Against]:
        """The last marked frame, the reference, the frame before."""
        view = source.view
        marked = [rows[0] for number in self.session.marked(view) if (rows := view.rows_by_number.get(number))]
        ones = [fixed_frame(source, marked[-1], "marked frame")] if marked else []
        if view.series is not None and view.series.reference_index is not None:
            number = view.facts[view.series.reference_index].number
            ones.append(fixed_frame(source, view.rows_by_number[number][0], "reference frame"))
        return [*ones, frame_before(source)]

    async def _ask_for_corrected(self, source: Source) -> None:
        root = self.session.root
        folder = OutputFolder(self.session.written_to or root.with_name(f"{root.name}_fixed"))

        def fault(values: Values) -> str | None:
            typed = values["folder"]
            return None if typed and folder.typed(typed).is_dir() else "a folder that meshqc wrote"

        async def done(values: Values | None) -> None:
            if values is not None:
                out: Path = folder.typed(values["folder"])
                await self._compare(source, corrected(source.view, root, out))

        fields = [Field("folder", value=folder.shown)]
        await self.app.push_screen(Prompt(self.glyphs, "compare with a corrected folder", fields, fault), done)

    async def _compare(self, source: Source, against: Against) -> None:
        await self._look_with(lambda _, row: CompareScreen(self.session, self.glyphs, source, row, against))
