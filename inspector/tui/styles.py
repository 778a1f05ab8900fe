"""Signs and colours of severities.

A severity has its own background, so that its letter can be read on a light and on a dark terminal. All other text has
the terminal's own colours.
"""

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
SHARED_SIGN = "="  # a row that has only findings that nearly every frame has

STYLES = {
    Severity.ERROR: Style(color="#ffffff", bgcolor="#af0000", bold=True),
    Severity.WARNING: Style(color="#000000", bgcolor="#d7af00"),
    Severity.NOTE: Style(color="#000000", bgcolor="#5fafd7"),
}
"""The style of each severity. Its colours are among the 256 terminal colours; a terminal with sixteen colours shows the
nearest of its own. Text and background have a contrast of at least 4.5 (WCAG 2.2, success criterion 1.4.3, level AA).
"""
WORST_FIRST = (Severity.ERROR, Severity.WARNING, Severity.NOTE)


def sign_of(severity: Severity | None) -> str:
    """The letter of a severity; GOOD_SIGN for None."""
    return GOOD_SIGN if severity is None else severity.sign


def style_of(severity: Severity | None) -> Style:
    """The style of a severity; FAINT for None."""
    return FAINT if severity is None else STYLES[severity]


def tally(findings: Iterable[Finding], *, brief: bool = False) -> Text:
    """Count the findings of each severity that occurs, as text such as `E 2 errors  n 1 note`.

    Without findings, the text is `. nothing found`.

    Args:
        findings: The findings.
        brief: Whether to leave out the words: `E 2  n 1`.
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
    """Make a line of the screen.

    Every segment gets a style, because the filters for NO_COLOR need one.

    Args:
        segments: Text of the line.
        width: Width of the line in cells; the text is cut or filled.
    """
    styled = [Segment(segment.text, segment.style or PLAIN) for segment in segments]
    return Strip(styled).adjust_cell_length(width, PLAIN).simplify()
