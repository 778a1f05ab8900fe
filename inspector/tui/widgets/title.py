"""The top row: the folder, and the work in progress or the numbers of findings."""

from __future__ import annotations

from rich.cells import cell_len
from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from inspector.checks.base.finding import Severity
from inspector.names import counted
from inspector.report.command_options import stated_range, stated_size
from inspector.sequence.discovery.settings import Settings, frame_text
from inspector.tui.glyphs import Glyphs
from inspector.tui.session import Session
from inspector.tui.styles import PLAIN, STRONG, STYLES, strip_of, tally
from inspector.tui.widgets.sequence_list import files_text, range_text

_ALARM = f"{Severity.ERROR.sign} ALARM"
_GAP = "  "  # between parts of a state
_FOLDER, _LEAST_FOLDER = 12, 6  # minimum cells for the path, with a text about the sequence and without
_CUT_FOLDER = "…/"  # a cut path before the folder's own name; as wide in ASCII
_NARROW = 60  # columns; on narrower screens, the program's name is left out and words are shortened


class Title(Widget):
    """A row with the folder on the left and the state on the right. If the state doesn't fit, its last parts are left
    out."""

    def __init__(self, glyphs: Glyphs, folder: str) -> None:
        super().__init__()
        self._glyphs = glyphs
        self._folder = folder
        self._states: tuple[str, ...] = ("",)
        self._about: tuple[str, ...] = ()

    def show(self, states: tuple[str, ...], about: tuple[str, ...]) -> None:
        """Show the state.

        Args:
            states: Texts about the work in progress or the tally, the longest first. The first text that leaves space
                for the folder's name is shown. The parts of a text are separated by two spaces. The most important part
                comes first.
            about: Texts about the sequence, the longest first. The first text that fits is shown.
        """
        if (states, about) != (self._states, self._about):
            self._states, self._about = states, about
            self.refresh()

    def render_line(self, y: int) -> Strip:  # noqa: ARG002 - there is only one
        width = self.size.width
        narrow = width < _NARROW
        name = "" if narrow else "meshqc  "
        abouts = [words.replace("reference", "ref") if narrow else words for words in self._about]
        room = width - len(name) - _LEAST_FOLDER - len(_GAP)
        reference = abouts[-1] if abouts else ""
        folder_name = cell_len(self._glyphs.text(self._folder.rpartition("/")[2])) + len(_CUT_FOLDER) - _LEAST_FOLDER
        fitting = (state for state in self._states if cell_len(state) <= room - len(reference) - max(0, folder_name))
        state = next(fitting, self._states[-1])
        right = self._fitting(state, room - len(reference))
        if cell_len(right) > room - len(reference):
            reference, abouts = "", []
        if cell_len(right) > room:
            return strip_of([Segment(self._glyphs.fit(right, width), STRONG)], width)
        room = width - len(name) - len(_GAP) - cell_len(right)
        about = next((words for words in abouts if len(words) + _FOLDER <= room), reference)
        folder = self._glyphs.fit(self._folder, room - len(about), keep_end=True).rstrip()
        style = STYLES[Severity.ERROR] if state.startswith(_ALARM) else PLAIN
        left = f"{name}{self._glyphs.fit(folder + about, room)}{_GAP}"
        return strip_of([Segment(left, STRONG), Segment(right, style)], width)

    def _fitting(self, state: str, width: int) -> str:
        """Return as many parts of a state as fit, at least the first."""
        first, *parts = self._glyphs.text(state).split(_GAP)
        for part in parts:
            if cell_len(first) + len(_GAP) + cell_len(part) > width:
                break
            first += _GAP + part
        return first


def state_words(session: Session) -> tuple[str, ...]:
    """Return texts about the work in progress or the tally of the whole folder, the longest first.

    Each text begins with its most important part.
    """
    if session.status.text:
        what, *file = session.status.alarm.split(_GAP)
        return (_GAP.join([f"{_ALARM} {what}", session.status.text, *file]) if what else session.status.text,)
    if not session.views:
        return ("no sequence of numbered mesh files here",)
    if session.inspection is None:
        return ("not checked",)
    findings = [finding for view in session.views for finding in view.findings]
    first = ""
    if session.staged.plan and session.staged.plan.steps:
        state = "staged" if session.staged.unwritten else "written"
        first = f"{counted(len(session.staged.plan.steps), 'step')} {state}{_GAP}"
    elif session.staged.fault:
        first = f"no plan{_GAP}"
    elif len(session.views) > 1:
        first = f"{len(session.views):,} sequences{_GAP}"  # the list may not show them all
    return tuple(first + tally(findings, brief=brief).plain for brief in (False, True))


def about_words(session: Session) -> tuple[str, ...]:
    """Return three texts about the current sequence, the longest first; no texts if there is no sequence.

    The longest is, for example, `  1-24  24 files  reference 1  stated 1-30, size 1.8`.
    """
    view = session.view
    if view is None or not view.sequence.files:
        return ()
    reference, stated = "", _stated(session.settings)
    if view.series is not None and view.series.reference_index is not None:
        reference = f"  reference {frame_text(view.facts[view.series.reference_index].number)}"
    known = f"{reference}  {stated}" if stated else reference
    return f"  {range_text(view)}  {files_text(view)}{known}", f"  {range_text(view)}{known}", known


def _stated(settings: Settings) -> str:
    """Return the stated range and size, such as `stated 1-240, size 1.8`; empty if neither is stated."""
    size = stated_size(settings)
    words = ", ".join(filter(None, [stated_range(settings), size and f"size {size}"]))
    return words and f"stated {words}"
