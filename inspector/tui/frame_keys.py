"""From frame to frame by keys, on a screen that shows one of them."""

from __future__ import annotations

from inspector.tui.go_to import frame_at, number_fault
from inspector.tui.picture_screen import PictureScreen
from inspector.tui.problems import next_stop, stops
from inspector.tui.prompt import Field, Prompt, Values


class FrameKeys(PictureScreen):
    """Step, jump, next problem."""

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
                self.go_to_row(frame_at(self.view, values["frame"]))

        await self.app.push_screen(Prompt(self.glyphs, "go to a frame", [Field("frame")], number_fault), done)

    def action_problem(self, way: int) -> None:
        """The same stops as on the main screen, over all frames."""
        self.stand_still()
        stop = next_stop(stops(self.view, range(len(self.view.rows))), self.row, self.session.chosen, way)
        if stop is None:
            self.say("no further problem this way")
            return
        self.session.chosen = stop[1]
        self.go_to_row(stop[0])

    def action_back(self) -> None:
        self.stand_still()
        super().action_back()
