"""The findings of a sequence, one per line.

A finding has the sign `x` if a fix is staged for it. Findings that occur in nearly every frame come last.
"""

from __future__ import annotations

from rich.cells import cell_len
from rich.segment import Segment

from inspector.names import counted
from inspector.report.frame_rows import SequenceView
from inspector.tui.columns import FrameValues
from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import STYLES
from inspector.tui.widgets.cursor_list import CursorList

_LONGEST_FRAMES = 12  # cells; longer lists of frames become a number
_SIGNS = 4  # cells before the words


class FindingList(CursorList):
    """A list of findings. The cursor is on the chosen finding, whose card is shown."""

    def __init__(self, glyphs: Glyphs, id: str | None = None) -> None:
        super().__init__(glyphs, id)
        self._view: SequenceView | None = None
        self._chosen: int | None = None
        self._answered: frozenset[int] = frozenset()
        self._named: tuple[str, ...] = ()

    def show(self, view: SequenceView, chosen: int | None, answered: frozenset[int]) -> None:
        """Show the findings of a view."""
        if view is not self._view:
            self._view = view
            self._named = FrameValues(view).named
            self.rows_changed()
        if (chosen is None, answered) != (self._chosen is None, self._answered):
            self.refresh()
        self._chosen, self._answered = chosen, answered
        if chosen is not None:
            self.put_cursor(view.ranked.index(chosen))

    @property
    def finding(self) -> int | None:
        """Index of the finding under the cursor; None if there are no findings."""
        return self._view.ranked[self.cursor] if self._view and self._view.findings else None

    @property
    def marks_cursor(self) -> bool:
        return self._chosen is not None or self.has_focus

    def row_count(self) -> int:
        return len(self._view.findings) if self._view else 0

    def empty(self) -> str:
        if self._view is None:
            return ""
        return "not checked yet" if self._view.inspection is None else "no problems found"

    def _frames(self, at: int) -> str:
        """Return the frames of a finding in words, such as `3-5`, `2,997 frames` or `every frame`."""
        assert self._view is not None
        if at in self._view.shared and len(words := self._view.share_words([at])) <= _LONGEST_FRAMES:
            return words
        ranges = self._view.ranges(at)
        return ranges if len(ranges) <= _LONGEST_FRAMES else counted(len(self._view.findings[at].frames), "frame")

    def _words(self, at: int, room: int) -> str:
        """Return the name of a finding, followed by its message if there is space and the message differs from the
        name."""
        assert self._view is not None
        name, message = self._named[at], self._view.findings[at].message
        full = f"{name}: {message}"
        return full if name != message and cell_len(full) <= room else name

    def row(self, at: int, width: int) -> list[Segment]:
        assert self._view is not None
        index = self._view.ranked[at]
        finding, frames = self._view.findings[index], self._frames(index)
        frames_width = min(len(frames), max(0, width - _SIGNS - 2))
        words_width = max(1, width - frames_width - _SIGNS - 2)
        words = self.glyphs.fit(self._words(index, words_width), words_width)
        return [
            Segment(finding.severity.sign, STYLES[finding.severity]),
            Segment(" x " if index in self._answered else "   "),
            Segment(f"{words}  {self.glyphs.fit(frames, frames_width, right=True)}"),
        ]
