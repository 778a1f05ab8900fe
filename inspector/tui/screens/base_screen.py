"""The base class of the screens that show the session. It shows messages in the footer and runs work in threads."""

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
    """Run a function in a thread.

    The thread gets a fixed description. Otherwise, Textual would make a description from all arguments of the function,
    such as the facts of 10,000 frames, and key presses would have to wait.
    """
    app.run_worker(work, description="work", thread=True, exit_on_error=False)


class SessionScreen(Screen[None]):
    """A screen that shows the session. The app calls `session_changed` when the session has changed.

    Attributes:
        session: The open folder.
        glyphs: The characters that the terminal can show.
    """

    def __init__(self, session: Session, glyphs: Glyphs) -> None:
        super().__init__()
        self.session = session
        self.glyphs = glyphs

    def session_changed(self) -> None:
        """Show the session as it is now."""

    def follow(self) -> None:
        """Go to the frame on which another screen has put the cursor. A screen without frames does nothing."""

    def kinds_of_cells(self, *, lines: bool) -> list[Cells]:
        """Return the kinds of cells that the terminal can show, the most suitable first. Cells of pixels come first if
        the terminal can show them.

        `lines` states whether the picture consists of lines, which the finest dots show best. In other pictures, shades
        matter more.
        """
        depth = depth_of(self.app.console.color_system, self.app.no_color)
        pixels = pixel_cells(self.session.graphics, depth)
        cells = cells_for(depth, self.glyphs.ascii, dots=lines)
        return cells if pixels is None else [pixels, *cells]

    def graphics_changed(self) -> None:
        """Redraw pictures after the terminal has reported what it can draw."""

    def say(self, words: str) -> None:
        """Show a message in place of the list of keys until the user presses a key."""
        for footer in self.query(KeyFooter):
            footer.say(self.glyphs.text(words))

    def alarm(self, words: str) -> None:
        """Show an alarm above the list of keys, or above a message, until the user presses a key."""
        for footer in self.query(KeyFooter):
            footer.alarm(self.glyphs.text(words))

    def work(self, work: Callable[[], None]) -> None:
        """Run a function in a thread. An error in the function ends the program with a message."""
        in_thread(self.app, work)

    def action_back(self) -> None:
        self.dismiss()
