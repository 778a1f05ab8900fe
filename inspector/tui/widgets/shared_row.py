"""Findings of nearly every frame, shown once above the strip, and findings of several sequences."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from rich.text import Text
from textual.geometry import Size
from textual.widget import Widget

from inspector.checks.base.finding import Severity
from inspector.report.frame_rows import SequenceView
from inspector.tui.columns import title_of
from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import SHARED_SIGN, STYLES

_MOST_NAMED = 2  # maximum number of findings of several sequences


class SharedRow(Widget):
    """At most one row for each of the two; no row if there is nothing to show."""

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__()
        self._glyphs = glyphs
        self._lines: list[tuple[Severity, str]] = []

    def show(self, views: Sequence[SequenceView], view: SequenceView | None) -> None:
        """Show what is shared.

        Args:
            views: All sequences.
            view: The sequence whose frames are looked at.
        """
        lines = [line for line in (_every_frame(view), _several(views)) if line is not None]
        if lines != self._lines:
            self._lines = lines
            self.refresh(layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - lines alone tell
        return len(self._lines)

    def render(self) -> Text:
        width = self.size.width
        lines = [Text(self._glyphs.fit(f"{SHARED_SIGN} {words}", width), STYLES[worst]) for worst, words in self._lines]
        return Text("\n").join(lines)


def _every_frame(view: SequenceView | None) -> tuple[Severity, str] | None:
    if view is None or not view.shared:
        return None
    findings = [view.findings[at] for at in view.ranked if at in view.shared]
    words = "; ".join(f"{finding.severity.sign} {title_of(finding.check)}" for finding in findings)
    return findings[0].severity, f"every frame: {words}"


def _several(views: Sequence[SequenceView]) -> tuple[Severity, str] | None:
    """`the same in several sequences: E Texture file missing (4 of 5)`."""
    causes: Counter[tuple[Severity, str]] = Counter()
    for view in views:
        causes.update({(finding.severity, finding.check) for finding in view.findings if finding.severity})
    several = [(cause, number) for cause, number in causes.items() if number > 1]
    if not several:
        return None
    several.sort(key=lambda one: (-one[0][0], -one[1], one[0][1]))
    named = [
        f"{severity.sign} {title_of(check)} ({number} of {len(views)})"
        for (severity, check), number in several[:_MOST_NAMED]
    ]
    more = f"; {len(several) - _MOST_NAMED} more" if len(several) > _MOST_NAMED else ""
    return several[0][0][0], f"the same in several sequences: {'; '.join(named)}{more}"
