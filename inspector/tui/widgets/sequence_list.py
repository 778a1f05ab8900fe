"""A list of the sequences with the tallies of their findings, followed by the files that don't form a sequence."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import pairwise

import numpy as np
from rich.cells import cell_len
from rich.segment import Segment
from rich.text import Text
from textual.geometry import Size

from inspector.inspection.inspection import NotASequence
from inspector.names import counted
from inspector.report.frame_rows import SequenceView, severity_of
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import FAINT, PLAIN, SHARED_SIGN, sign_of, style_of, tally
from inspector.tui.widgets.cursor_list import CursorList

_STRIP, _LEAST_STRIP = 24, 12  # cells
_GAP = "  "  # blanks after a strip


def pattern_text(view: SequenceView) -> str:
    """Return the pattern of a sequence, preceded by the path of its subfolder, if any."""
    folder = view.sequence.relative.display
    pattern = view.sequence.pattern.display
    return pattern if folder == "." else f"{folder}/{pattern}"


def range_text(view: SequenceView) -> str:
    """Return the first and the last frame number of a sequence, as in `1-24`."""
    first, last = view.sequence.files[0].number, view.sequence.files[-1].number
    return f"{frame_text(first)}-{frame_text(last)}"


def files_text(view: SequenceView) -> str:
    """Return the number of files of a sequence, as in `24 files`."""
    return counted(len(view.sequence.files), "file")


class SequenceList(CursorList):
    """A list of sequences. The cursor stops only on sequences."""

    def __init__(self, glyphs: Glyphs, id: str | None = None) -> None:
        super().__init__(glyphs, id)
        self._views: tuple[SequenceView, ...] = ()
        self._others: tuple[NotASequence, ...] = ()
        self._checking = False
        self._widths = [0] * len(self._texts())

    def show(
        self, views: tuple[SequenceView, ...], others: tuple[NotASequence, ...] = (), *, checking: bool = False
    ) -> None:
        """Show sequences."""
        before = self.row_count()
        self._views, self._others, self._checking = views, others, checking
        self._widths = [
            max((cell_len(self.glyphs.text(text(view))) for view in views), default=0) for text in self._texts()
        ]
        self.rows_changed()
        if self.row_count() != before:
            self.refresh(layout=True)

    def _texts(self) -> tuple[Callable[[SequenceView], str], ...]:
        """Return functions that make the parts of a row: the pattern, the frame range, the number of files, the state
        in full, and the state in brief. A row contains the state either in full or in brief."""
        return pattern_text, range_text, files_text, partial(self._state, brief=False), partial(self._state, brief=True)

    def _state(self, view: SequenceView, *, brief: bool) -> str:
        return state_text(view, checking=self._checking, brief=brief).plain

    def row_count(self) -> int:
        return len(self._views) + len(self._others)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - the rows decide
        return self.row_count()

    def put_cursor(self, at: int) -> None:
        super().put_cursor(min(at, len(self._views) - 1))

    def row(self, at: int, width: int) -> list[Segment]:
        if at >= len(self._views):
            other = self._others[at - len(self._views)]
            said = f"{other.pattern.display}  {counted(other.count, 'file')}: {other.reason}"
            return [Segment(self.glyphs.fit(said, width), FAINT)]
        view = self._views[at]
        names, ranges, files, *states = self._widths
        full = f"  {range_text(view):<{ranges}}  {files_text(view):>{files}}  "
        layouts = ((full, False), (full, True), (f"  {range_text(view):<{ranges}}  ", True), ("  ", True))
        rooms = [width - len(counts) - states[brief] for counts, brief in layouts]
        needed = (names + _LEAST_STRIP + len(_GAP), names)  # the strip is left out before the name is cut
        at = next((at for least in needed for at, room in enumerate(rooms) if room >= least), -1)
        (counts, brief), left = layouts[at], rooms[at]
        room = min(names, max(8, left))
        strip = self._strip(view, left - room)
        end = state_text(view, checking=self._checking, brief=brief)
        return [Segment(self._label(view, room) + counts, PLAIN), *strip, *_segments(end)]

    def _label(self, view: SequenceView, room: int) -> str:
        """Return the folder and the pattern. If they don't fit, the frame number and the text after it are left out
        first."""
        name = pattern_text(view)
        if cell_len(self.glyphs.text(name)) > room:
            name = name.partition("#")[0].rstrip("._-")
        return self.glyphs.fit(name, room, keep_end=True)

    def _strip(self, view: SequenceView, room: int) -> list[Segment]:
        """Return the signs of the whole sequence in a few cells; empty before the checks, or if space is short."""
        cells = min(_STRIP, room - len(_GAP))
        if cells < _LEAST_STRIP or view.inspection is None or not view.rows:
            return []
        starts = np.arange(cells, dtype=np.intp) * len(view.rows) // cells
        starts = np.unique(starts)
        worst = np.maximum.reduceat(view.apart, starts)
        shared = np.maximum.reduceat(view.worst, starts) > worst
        segments = []
        for value, is_shared in zip(worst.tolist(), shared.tolist(), strict=True):
            severity = severity_of(value)
            sign = SHARED_SIGN if severity is None and is_shared else sign_of(severity)
            segments.append(Segment(sign, style_of(severity)))
        return [*segments, Segment(" " * (cells + len(_GAP) - len(starts)))]


def state_text(view: SequenceView, *, checking: bool, brief: bool) -> Text:
    """Return the tally of the findings, and the number of failed checks. Until the sequence is checked, return the
    progress."""
    if checking:
        return Text("checking", FAINT)
    if view.inspection is not None:
        text = tally(view.findings, brief=brief)
        failed = len(view.inspection.verdict.failed)
        if failed:
            text.append(f"  ! {counted(failed, 'check')} failed")
        return text
    total = len(view.sequence.files)
    if not view.read:
        return Text("listed, not read yet", FAINT)
    return Text("all read, not checked yet" if view.read == total else f"{view.read:,} of {total:,} read", FAINT)


def _segments(text: Text) -> list[Segment]:
    """Convert a one-line text to segments. Unsafe characters are not escaped, so no text from files is allowed."""
    plain = text.plain
    marks = sorted({0, len(plain), *(edge for span in text.spans for edge in (span.start, span.end))})
    segments = []
    for start, stop in pairwise(marks):
        styles = [span.style for span in text.spans if span.start <= start < span.end]
        style = styles[0] if styles else text.style
        segments.append(Segment(plain[start:stop], style if not isinstance(style, str) else None))
    return segments
