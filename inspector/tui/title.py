"""The top row: the folder, and the total or what there is to say."""

from __future__ import annotations

from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from inspector.tui.glyphs import Glyphs
from inspector.tui.session import Session
from inspector.tui.strips import strip_of
from inspector.tui.styles import STRONG, counted, tally


class Title(Widget):
    """A word said here stands until the next key."""

    def __init__(self, glyphs: Glyphs, folder: str) -> None:
        super().__init__()
        self._glyphs = glyphs
        self._folder = folder
        self._state = ""
        self._said = ""

    def show(self, state: str) -> None:
        if state != self._state:
            self._state = state
            self.refresh()

    def say(self, words: str) -> None:
        if words != self._said:
            self._said = words
            self.refresh()

    def render_line(self, y: int) -> Strip:  # noqa: ARG002 - there is but one
        width = self.size.width
        right = self._glyphs.text(self._said or self._state)
        right = self._glyphs.fit(right, min(len(right), width - 12), right=True)
        left = "meshqc  " + self._glyphs.fit(self._folder, max(0, width - len(right) - 10), keep_end=True)
        style = STRONG if self._said else None
        return strip_of([Segment(left + "  ", STRONG), Segment(right, style)], width)


def state_words(session: Session) -> str:
    """What is going on, or the tally of the whole folder."""
    if session.words:
        return f"E ALARM {session.alarm}; {session.words}" if session.alarm else session.words
    if not session.views:
        return "no sequence of numbered mesh files here"
    found = tally([finding for view in session.views for finding in view.findings]).plain
    if session.plan:
        state = "staged" if session.unwritten else "written"
        return f"{counted(len(session.plan.steps), ('step', 'steps'))} {state}  {found}"
    many = f"{len(session.views):,} sequences  " if len(session.views) > 1 else ""  # the list may not show them all
    return many + found
