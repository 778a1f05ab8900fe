"""The viewer: a frame as a picture, to be turned, played and searched by keys."""

from __future__ import annotations

from inspector.tui import keys
from inspector.tui.camera_keys import CameraKeys
from inspector.tui.choice import ChoiceDrawer
from inspector.tui.go_to import frame_at, number_fault
from inspector.tui.looks import Look
from inspector.tui.playing import Playing
from inspector.tui.problems import next_stop, stops
from inspector.tui.prompt import Field, Prompt, Values


class ViewerScreen(Playing, CameraKeys):
    """`row` is where the main screen's cursor goes when it is left."""

    BINDINGS = keys.bindings(keys.VIEWER)

    async def action_look(self) -> None:
        looks = list(Look)

        def done(answer: int | None) -> None:
            if answer is not None:
                self.look = looks[answer]
                self.show_place()
                self.draw()

        await self.app.push_screen(
            ChoiceDrawer(self.glyphs, "draw it", [one.value for one in looks], looks.index(self.look)), done
        )

    def action_behind(self) -> None:
        self.behind = not self.behind
        self.show_place()
        self.draw()

    def action_marks(self) -> None:
        self.marks = not self.marks
        self.draw()

    def action_cells(self) -> None:
        self.other_cells = not self.other_cells
        self.draw()

    async def action_go(self) -> None:
        def done(values: Values | None) -> None:
            if values:
                self._stop_quietly()
                self.go_to_row(frame_at(self.view, values["frame"]))

        await self.app.push_screen(Prompt(self.glyphs, "go to a frame", [Field("frame")], number_fault), done)

    def action_problem(self, way: int) -> None:
        """The same stops as on the main screen, over all frames."""
        self._stop_quietly()
        stop = next_stop(stops(self.view, range(len(self.view.rows))), self.row, self.session.chosen, way)
        if stop is None:
            self.say("no further problem this way")
            return
        self.session.chosen = stop[1]
        self.go_to_row(stop[0])

    def action_back(self) -> None:
        self._stop_quietly()
        super().action_back()
