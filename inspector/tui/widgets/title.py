"""The top row: the folder, and the total or what there is to say."""

from __future__ import annotations

from rich.cells import cell_len
from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from inspector.checks.base.finding import Severity
from inspector.report.text import counted
from inspector.tui.glyphs import Glyphs
from inspector.tui.session import Session
from inspector.tui.styles import PLAIN, STRONG, STYLES, strip_of, tally

_ALARM = f"{Severity.ERROR.sign} ALARM"
_GAP = "  "  # between parts of a state
_LEAST_FOLDER = 12  # cells for the name and the end of the folder


class Title(Widget):
    """The folder at the left; at the right the state in whole parts, the most important first."""

    def __init__(self, glyphs: Glyphs, folder: str) -> None:
        super().__init__()
        self._glyphs = glyphs
        self._folder = folder
        self._state = ""

    def show(self, state: str) -> None:
        if state != self._state:
            self._state = state
            self.refresh()

    def render_line(self, y: int) -> Strip:  # noqa: ARG002 - there is but one
        width = self.size.width
        right = self._fitting(width - _LEAST_FOLDER)
        if cell_len(right) > width - _LEAST_FOLDER:
            return strip_of([Segment(self._glyphs.fit(right, width), STRONG)], width)
        left = "meshqc  " + self._glyphs.fit(self._folder, width - cell_len(right) - 10, keep_end=True)
        style = STYLES[Severity.ERROR] if self._state.startswith(_ALARM) else PLAIN
        return strip_of([Segment(left + "  ", STRONG), Segment(right, style)], width)

    def _fitting(self, width: int) -> str:
        """As many parts of the state as there is room for; the first in any case."""
        first, *parts = self._glyphs.text(self._state).split(_GAP)
        for part in parts:
            if cell_len(first) + len(_GAP) + cell_len(part) > width:
                break
            first += _GAP + part
        return first


def state_words(session: Session) -> str:
    """What is going on, or the tally of the whole folder; in parts, the most important first."""
    if session.status.text:
        return (
            f"{_ALARM} {session.status.alarm}{_GAP}{session.status.text}"
            if session.status.alarm
            else session.status.text
        )
    if not session.views:
        return "no sequence of numbered mesh files here"
    found = tally([finding for view in session.views for finding in view.findings]).plain
    if session.staged.plan:
        state = "staged" if session.staged.unwritten else "written"
        return f"{counted(len(session.staged.plan.steps), 'step')} {state}  {found}"
    many = f"{len(session.views):,} sequences  " if len(session.views) > 1 else ""  # the list may not show them all
    return many + found
