"""The top row: the folder, and the tally or the running work."""

from __future__ import annotations

from rich.cells import cell_len
from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from inspector.checks.base.finding import Severity
from inspector.names import counted
from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.glyphs import Glyphs
from inspector.tui.session import Session
from inspector.tui.styles import PLAIN, STRONG, STYLES, strip_of, tally
from inspector.tui.widgets.sequence_list import files_text, range_text

_ALARM = f"{Severity.ERROR.sign} ALARM"
_GAP = "  "  # between parts of a state
_FOLDER, _LEAST_FOLDER = 12, 6  # cells for the end of the folder, and where it has to give way to the reference
_NARROW = 60  # columns; below, the program's name is left out and words are shortened


class Title(Widget):
    """The folder at the left, and the state at the right in whole parts, the most important first.

    Args:
        glyphs: The characters for the text.
        folder: Its path, as shown.
    """

    def __init__(self, glyphs: Glyphs, folder: str) -> None:
        super().__init__()
        self._glyphs = glyphs
        self._folder = folder
        self._state = ""
        self._about: tuple[str, ...] = ()

    def show(self, state: str, about: tuple[str, ...]) -> None:
        """Show the state.

        Args:
            state: The running work; parts are separated by two blanks.
            about: Texts about the sequence, of which the first that fits is shown.
        """
        if (state, about) != (self._state, self._about):
            self._state, self._about = state, about
            self.refresh()

    def render_line(self, y: int) -> Strip:  # noqa: ARG002 - there is only one
        width = self.size.width
        narrow = width < _NARROW
        name = "" if narrow else "meshqc  "
        abouts = [words.replace("reference", "ref") if narrow else words for words in self._about]
        room = width - len(name) - _LEAST_FOLDER - len(_GAP)
        reference = abouts[-1] if abouts else ""
        right = self._fitting(room - len(reference))
        if cell_len(right) > room - len(reference):
            reference, abouts = "", []
        if cell_len(right) > room:
            return strip_of([Segment(self._glyphs.fit(right, width), STRONG)], width)
        room = width - len(name) - len(_GAP) - cell_len(right)
        about = next((words for words in abouts if len(words) + _FOLDER <= room), reference)
        folder = self._glyphs.fit(self._folder, room - len(about), keep_end=True).rstrip()
        style = STYLES[Severity.ERROR] if self._state.startswith(_ALARM) else PLAIN
        left = f"{name}{self._glyphs.fit(folder + about, room)}{_GAP}"
        return strip_of([Segment(left, STRONG), Segment(right, style)], width)

    def _fitting(self, width: int) -> str:
        """As many parts of the state as fit, at least the first."""
        first, *parts = self._glyphs.text(self._state).split(_GAP)
        for part in parts:
            if cell_len(first) + len(_GAP) + cell_len(part) > width:
                break
            first += _GAP + part
        return first


def state_words(session: Session) -> str:
    """The running work, or the tally of the whole folder, in parts, the most important first."""
    if session.status.text:
        what, *file = session.status.alarm.split(_GAP)
        return _GAP.join([f"{_ALARM} {what}", session.status.text, *file]) if what else session.status.text
    if not session.views:
        return "no sequence of numbered mesh files here"
    found = tally([finding for view in session.views for finding in view.findings]).plain
    if session.staged.plan:
        state = "staged" if session.staged.unwritten else "written"
        return f"{counted(len(session.staged.plan.steps), 'step')} {state}  {found}"
    many = f"{len(session.views):,} sequences  " if len(session.views) > 1 else ""  # the list may not show them all
    return many + found


def about_words(view: SequenceView | None) -> tuple[str, ...]:
    """`  1-24  24 files  reference 1`, and shorter texts."""
    if view is None or not view.sequence.files:
        return ()
    reference = ""
    if view.series is not None and view.series.reference_index is not None:
        reference = f"  reference {frame_text(view.facts[view.series.reference_index].number)}"
    full = f"  {range_text(view)}  {files_text(view)}{reference}"
    return full, f"  {range_text(view)}{reference}", reference
