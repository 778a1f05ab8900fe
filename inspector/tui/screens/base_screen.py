"""What all screens share: the session, the characters, the keys of the table, and their footer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual.app import App
from textual.screen import Screen

from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.cells import Cells, cells_for
from inspector.tui.pictures.colours import depth_of
from inspector.tui.pictures.pixels import pixel_cells
from inspector.tui.session import Session
from inspector.tui.widgets.footer import KeyFooter


def in_thread(app: App[Any], work: Callable[[], None]) -> None:
    """Do the work in a thread. Without a description the library would write down all that the work is given, the facts
    of ten thousand frames, say, while keys wait."""
    app.run_worker(work, description="work", thread=True, exit_on_error=False)


class SessionScreen(Screen[None]):
    """Shows the session; the app calls `session_changed` when that changed."""

    def __init__(self, session: Session, glyphs: Glyphs) -> None:
        super().__init__()
        self.session = session
        self.glyphs = glyphs

    def session_changed(self) -> None:
        """Show the session as it is now."""

    def ways_to_draw(self, *, lines: bool) -> list[Cells]:
        """The ways to draw a picture that the terminal has, the one that suits first: its own pixels, if it has them.

        Args:
            lines: Whether the picture is of lines, which the finest dots show best. Otherwise shades count.
        """
        depth = depth_of(self.app.console.color_system, self.app.no_color)
        pixels = pixel_cells(self.session.graphics, depth)
        cells = cells_for(depth, self.glyphs.ascii, dots=lines)
        return cells if pixels is None else [pixels, *cells]

    def graphics_changed(self) -> None:
        """The terminal has told what it draws; screens with a picture draw it again."""

    def say(self, words: str) -> None:
        """Show a message in place of the keys, until the next key."""
        for footer in self.query(KeyFooter):
            footer.say(self.glyphs.text(words))

    def alarm(self, words: str) -> None:
        """Show an alarm above the keys and beside any message, until the next key."""
        for footer in self.query(KeyFooter):
            footer.alarm(self.glyphs.text(words))

    def work(self, work: Callable[[], None]) -> None:
        """Do the work in a thread; an error in it ends the program with a message, as everywhere."""
        in_thread(self.app, work)

    def action_back(self) -> None:
        self.dismiss()
