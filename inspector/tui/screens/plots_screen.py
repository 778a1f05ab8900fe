"""Plots of values over the frames: position, size and speed of the mesh, its counts, and its files."""

from __future__ import annotations

from textual.app import ComposeResult

from inspector.report.curves import PANELS
from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.settings import frame_text
from inspector.tui import keys
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.frame_keys import FrameKeys
from inspector.tui.session import Session
from inspector.tui.widgets.band_plot import BandPlot
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.overview import Overview
from inspector.tui.widgets.rule import Rule

_FEWEST = 8  # minimum number of frames in the window


class PlotsScreen(FrameKeys):
    """A screen that shows one panel of curves.

    Attributes:
        window: The first visible row, and the row after the last visible row; None if all rows are visible.
    """

    BINDINGS = keys.bindings(keys.PLOTS)

    def __init__(self, session: Session, glyphs: Glyphs, view: SequenceView, row: int) -> None:
        super().__init__(session, glyphs)
        self.view = view
        self.row = row
        self.window: tuple[int, int] | None = None

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, id="picture-title")
        yield BandPlot(self.glyphs)
        yield Overview(self.glyphs)
        yield KeyFooter(keys.PLOTS)

    def on_mount(self) -> None:
        self.show_place()

    def session_changed(self) -> None:
        """Show the session's new view of the sequence, if there is one, for example because more frames have been
        read."""
        now = self.session.view
        if now is not None and now is not self.view and now.sequence.key == self.view.sequence.key:
            self.view, self.row = now, self.session.row or 0
            if self.window is not None:
                self._see(self.window[0], self.window[1] - self.window[0])
            self.show_place()

    def here(self) -> tuple[SequenceView, int]:
        return self.view, self.row

    def _state_words(self) -> str:
        first, stop = self.window or (0, len(self.view.rows))
        ends = [frame_text(self.view.rows[at].number) for at in (first, stop - 1)]
        return f"{PANELS[self.session.view_state.panel].title}, frames {ends[0]}-{ends[1]}"

    def show_place(self) -> None:
        rule = self.query_one(Rule)
        rule.title = f"{self.view.sequence.pattern.display}  frame {frame_text(self.view.rows[self.row].number)}"
        rule.note = self._state_words()
        self.query_one(BandPlot).show(self.view, self.row, self.session.view_state.panel, self.window)
        self.query_one(Overview).show(self.view, self.row, self.session.selection.finding, "")

    def go_to_row(self, row: int, *, moving: bool = False, choose: bool = True) -> None:  # noqa: ARG002
        self.row = row
        self.session.select_row(self.view, row)
        if choose:
            self.session.choose_for(row)
        if self.window is not None and not self.window[0] <= row < self.window[1]:
            size = self.window[1] - self.window[0]
            self._see(row - size // 2, size)
        self.show_place()

    def action_along(self, way: int) -> None:
        """Go to the next (`way` 1) or the previous (-1) column of the plot."""
        self.go_to_row(self.query_one(BandPlot).neighbour(self.row, way))

    def action_panel(self, number: int) -> None:
        if number <= len(PANELS):
            self.session.view_state.panel = number - 1
            self.show_place()

    def action_next_panel(self, way: int) -> None:
        self.session.view_state.panel = (self.session.view_state.panel + way) % len(PANELS)
        self.show_place()

    def action_zoom(self, way: int) -> None:
        """Show half as many frames (`way` above 0) or twice as many frames. If possible, the cursor stays where it is
        on the screen."""
        first, stop = self.window or (0, len(self.view.rows))
        size = max(_FEWEST, (stop - first) // 2) if way > 0 else 2 * (stop - first)
        share = (self.row - first) / (stop - first)
        self._see(self.row - int(share * size), size)
        self.show_place()

    def action_pan(self, way: int) -> None:
        if self.window is None:
            self.say("all frames are visible; +: zoom in")
            return
        size = self.window[1] - self.window[0]
        self._see(self.window[0] + way * max(1, size // 4), size)
        first, stop = self.window
        self.go_to_row(max(first, min(self.row, stop - 1)))

    def action_fit(self) -> None:
        self.window = None
        self.show_place()

    def _see(self, first: int, size: int) -> None:
        """Set the window. If it would extend beyond the frames, move it. If the view has no more than `size` rows, show
        all rows."""
        rows = len(self.view.rows)
        if size >= rows:
            self.window = None
        else:
            first = max(0, min(first, rows - size))
            self.window = (first, first + size)
