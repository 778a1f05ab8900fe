"""From frame to frame by keys, on a screen that shows one of them."""

from __future__ import annotations

from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.drawers.go_to import frame_at, number_fault
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.problems import NO_MORE, next_stop, stops
from inspector.tui.screens.base_screen import SessionScreen


class FrameKeys(SessionScreen):
    """Step, jump, next problem, marks. view: what is shown; row: of it, under the cursor."""

    view: SequenceView
    row: int

    def go_to_row(self, row: int, *, moving: bool = False, choose: bool = True) -> None:
        """Show another frame. choose: with a finding of its own, if the chosen one isn't on it."""
        raise NotImplementedError

    def stand_still(self) -> None:
        """Stop what moves from frame to frame by itself."""

    def action_step(self, frames: int) -> None:
        """So many frames on, from the end back to the start and the other way round."""
        self.stand_still()
        self.go_to_row((self.row + frames) % len(self.view.rows), moving=True)

    def action_edge(self, side: int) -> None:
        self.stand_still()
        self.go_to_row(0 if side < 0 else len(self.view.rows) - 1)

    async def action_go(self) -> None:
        def done(values: Values | None) -> None:
            if values:
                self.stand_still()
                row, words = frame_at(self.view, values["frame"])
                self.go_to_row(row)
                self.say(words)

        await self.app.push_screen(Prompt(self.glyphs, "go to a frame", [Field("frame")], number_fault), done)

    def action_problem(self, way: int) -> None:
        """The same stops as on the main screen, over all frames."""
        self._next_stop(way, None)

    def action_same_check(self, way: int) -> None:
        finding = self.session.finding
        if finding is None:
            self.say("no finding is chosen here")
        else:
            self._next_stop(way, finding.check)

    def _next_stop(self, way: int, check: str | None) -> None:
        self.stand_still()
        stop = next_stop(stops(self.view, range(len(self.view.rows)), check), self.row, self.session.chosen, way)
        if stop is None:
            self.say(NO_MORE[way] if check is None else "this check found no more this way")
            return
        self.session.chosen = stop[1]
        self.go_to_row(stop[0])

    def action_mark(self) -> None:
        """Mark the frame under the cursor, or take the mark away."""
        marked = self.session.mark(self.view, self.row)
        number = frame_text(self.view.rows[self.row].number)
        self.say(f"frame {number} is marked" if marked else f"frame {number} is marked no more")

    def action_next_mark(self) -> None:
        row = self.session.next_mark(self.view, self.row)
        if row is None:
            self.say("no frame is marked (k)")
        else:
            self.stand_still()
            self.go_to_row(row)

    def action_back(self) -> None:
        self.stand_still()
        super().action_back()
