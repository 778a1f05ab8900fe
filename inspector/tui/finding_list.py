"""What was found in a sequence, one line a cause, the worst first."""

from __future__ import annotations

from rich.segment import Segment

from inspector.tui.columns import title_of
from inspector.tui.cursor_list import CursorList
from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import PLAIN, SIGNS, STYLES
from inspector.tui.view import SequenceView


class FindingList(CursorList):
    """`chosen` is the finding whose card is shown; the cursor follows it."""

    def __init__(self, glyphs: Glyphs, id: str | None = None) -> None:
        super().__init__(glyphs, id)
        self._view: SequenceView | None = None

    def show(self, view: SequenceView, chosen: int | None) -> None:
        if view is not self._view:
            self._view = view
            self.rows_changed()
        if chosen is not None:
            self.put_cursor(chosen)

    def row_count(self) -> int:
        return len(self._view.findings) if self._view else 0

    def empty(self) -> str:
        checked = self._view is not None and self._view.inspection is not None
        return "nothing found" if checked else ""

    def row(self, at: int, width: int) -> list[Segment]:
        assert self._view is not None
        finding = self._view.findings[at]
        title = f"{SIGNS[finding.severity]} {title_of(finding.check)}"
        frames = self._view.ranges(at)
        room = max(width // 3, width - len(title) - 2)
        title_width = max(1, width - min(len(frames), room) - 2)
        return [
            Segment(self.glyphs.fit(title, title_width), STYLES[finding.severity]),
            Segment("  " + self.glyphs.fit(frames, max(0, width - title_width - 2), right=True), PLAIN),
        ]
