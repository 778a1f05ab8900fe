"""The rows above the strip: one for findings that nearly every frame has, and one for findings that several sequences
have."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from rich.text import Text
from textual.geometry import Size
from textual.widget import Widget

from inspector.checks.base.finding import Severity
from inspector.report.frame_rows import SequenceView
from inspector.tui.columns import title_of
from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import SHARED_SIGN, STYLES


@dataclass(frozen=True, slots=True)
class Shared:
    """A row with shared findings, the worst first.

    Attributes:
        where: The frames or sequences that share the findings, in words.
        findings: Severity and title of each finding.
    """

    where: str
    findings: tuple[tuple[Severity, str], ...]

    def fitting(self, width: int) -> Text:
        """Return the text of the row: as many findings as fit, but at least one, followed by the number of findings
        that don't fit. Only signs are in colour."""
        for named in range(len(self.findings), 0, -1):
            text = Text(f"{SHARED_SIGN} {self.where}: ", no_wrap=True)
            for at, (severity, title) in enumerate(self.findings[:named]):
                text.append("; " if at else "").append(severity.sign, STYLES[severity]).append(f" {title}")
            text.append(f"; {len(self.findings) - named} more" if named < len(self.findings) else "")
            if text.cell_len <= width:
                break
        return text


class SharedRow(Widget):
    """A row for findings that nearly every frame has, and a row for errors and warnings that several sequences have. A
    row without findings is left out."""

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__()
        self._glyphs = glyphs
        self._lines: list[Shared] = []

    def show(self, views: Sequence[SequenceView], view: SequenceView | None) -> None:
        """Show the shared findings."""
        lines = [line for line in (_every_frame(view), _several(views)) if line is not None]
        if lines != self._lines:
            self._lines = lines
            self.refresh(layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - the lines decide
        return len(self._lines)

    def render(self) -> Text:
        lines = [line.fitting(self.size.width) for line in self._lines]
        for line in lines:
            if line.cell_len > self.size.width:
                line.right_crop(line.cell_len - self.size.width + 1)
                line.append(self._glyphs.more)
        return Text("\n").join(lines)


def _every_frame(view: SequenceView | None) -> Shared | None:
    if view is None or not view.shared:
        return None
    findings = [view.findings[at] for at in view.ranked if at in view.shared]
    return Shared(
        view.share_words(view.shared), tuple((finding.severity, title_of(finding.check)) for finding in findings)
    )


def _several(views: Sequence[SequenceView]) -> Shared | None:
    """Return the row for errors and warnings that several sequences have; None if there are none.

    An example is `the same in several sequences: E Texture file missing (4 of 5)`.
    """
    causes: Counter[tuple[Severity, str]] = Counter()
    for view in views:
        causes.update({(finding.severity, finding.check) for finding in view.findings if finding.severity})
    several = [(cause, number) for cause, number in causes.items() if number > 1]
    if not several:
        return None
    several.sort(key=lambda one: (-one[0][0], -one[1], one[0][1]))
    named = tuple((severity, f"{title_of(check)} ({number} of {len(views)})") for (severity, check), number in several)
    return Shared("the same in several sequences", named)
