"""Signs and colours of severities."""

from __future__ import annotations

from collections.abc import Iterable

from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual.strip import Strip

from inspector.checks.base.finding import Finding, Severity
from inspector.names import counted

PLAIN = Style()
STRONG = Style(bold=True)
FAINT = Style(dim=True)
CURSOR = Style(reverse=True)
GOOD_SIGN = "."
SHARED_SIGN = "="  # sign of a frame whose only findings are findings of nearly every frame

STYLES = {
    Severity.ERROR: Style(color="#ffffff", bgcolor="#af0000", bold=True),
    Severity.WARNING: Style(color="#000000", bgcolor="#d7af00"),
    Severity.NOTE: Style(color="#000000", bgcolor="#5fafd7"),
}
"""The style of each severity, in the 256 terminal colours. A terminal with 16 colours shows the most similar of its own
colours. The contrast between text and background is at least 4.5 (WCAG 2.2, success criterion 1.4.3, level AA)."""
WORST_FIRST = (Severity.ERROR, Severity.WARNING, Severity.NOTE)


def sign_of(severity: Severity | None) -> str:
    """Return the letter of a severity; GOOD_SIGN for None."""
    return GOOD_SIGN if severity is None else severity.sign


def style_of(severity: Severity | None) -> Style:
    """Return the style of a severity; FAINT for None."""
    return FAINT if severity is None else STYLES[severity]


def tally(findings: Iterable[Finding], *, brief: bool = False) -> Text:
    """State the number of findings of each severity, as in `E 2 errors  n 1 note`, or `. nothing found`.

    Args:
        findings: The findings.
        brief: Whether to leave out the words, as in `E 2  n 1`.
    """
    severities = [finding.severity for finding in findings]
    text = Text()
    for severity in WORST_FIRST:
        number = severities.count(severity)
        if number:
            said = f"{number:,}" if brief else counted(number, severity.word)
            text.append("  " if text else "").append(f"{severity.sign} {said}", STYLES[severity])
    return text or Text(f"{GOOD_SIGN} nothing found")


def strip_of(segments: Iterable[Segment], width: int) -> Strip:
    """Make a line of the screen, `width` cells wide. Longer text is cut; shorter text is padded with spaces.

    Every segment gets a style, because Textual's filters for NO_COLOR need a style.
    """
    styled = [Segment(segment.text, segment.style or PLAIN) for segment in segments]
    return Strip(styled).adjust_cell_length(width, PLAIN).simplify()
