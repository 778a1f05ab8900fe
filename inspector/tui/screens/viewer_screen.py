"""The viewer: a frame as a picture, to be turned, played and searched by keys."""

from __future__ import annotations

from inspector.tui import keys
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.pictures.render_modes import Look
from inspector.tui.screens.camera_keys import CameraKeys
from inspector.tui.screens.playing import Playing
from inspector.tui.screens.uv_screen import UvScreen


class ViewerScreen(Playing, CameraKeys):
    """All of the viewer's keys."""

    KEYS = keys.VIEWER
    BINDINGS = keys.bindings(keys.VIEWER)

    async def action_look(self) -> None:
        looks = list(Look)

        def done(answer: int | None) -> None:
            if answer is not None:
                self.look = self.session.look = looks[answer]
                self.show_place()
                self.draw()

        await self.app.push_screen(
            ChoiceDrawer(self.glyphs, "draw it", [one.value for one in looks], looks.index(self.look)), done
        )

    def action_behind(self) -> None:
        self.sight.behind = not self.sight.behind
        self.show_place()
        self.draw()

    def action_marks(self) -> None:
        self.sight.marks = not self.sight.marks
        self.draw()

    async def action_uv_map(self) -> None:
        """The same frame's UV map; coming back, the frame that was left there."""
        self.stand_still()
        await self.app.push_screen(
            screen := UvScreen(self.session, self.glyphs, self.source, self.row), lambda _: self.go_to_row(screen.row)
        )
