"""What was found in a sequence, one line a cause, the worst first; `x` where a fix is staged."""

from __future__ import annotations

from rich.segment import Segment

from inspector.report.frame_rows import SequenceView
from inspector.tui.columns import title_of
from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import STYLES
from inspector.tui.widgets.cursor_list import CursorList


class FindingList(CursorList):
    """`chosen` is the finding whose card is shown; the cursor follows it."""

    def __init__(self, glyphs: Glyphs, id: str | None = None) -> None:
        super().__init__(glyphs, id)
        self._view: SequenceView | None = None
        self._chosen: int | None = None
        self._answered: frozenset[int] = frozenset()

    def show(self, view: SequenceView, chosen: int | None, answered: frozenset[int]) -> None:
        if view is not self._view:
            self._view = view
            self.rows_changed()
        if (chosen is None, answered) != (self._chosen is None, self._answered):
            self.refresh()
        self._chosen, self._answered = chosen, answered
        if chosen is not None:
            self.put_cursor(chosen)

    @property
    def marks_cursor(self) -> bool:
        return self._chosen is not None or self.has_focus

    def row_count(self) -> int:
        return len(self._view.findings) if self._view else 0

    def empty(self) -> str:
        checked = self._view is not None and self._view.inspection is not None
        return "nothing found" if checked else ""

    def row(self, at: int, width: int) -> list[Segment]:
        assert self._view is not None
        finding = self._view.findings[at]
        title = title_of(finding.check)
        frames = self._view.ranges(at)
        room = max(width // 3, width - len(title) - 6)
        title_width = max(1, width - min(len(frames), room) - 6)
        frames_width = max(0, width - title_width - 6)
        return [
            Segment(finding.severity.sign, STYLES[finding.severity]),
            Segment(" x " if at in self._answered else "   "),
            Segment(f"{self.glyphs.fit(title, title_width)}  {self.glyphs.fit(frames, frames_width, right=True)}"),
        ]
