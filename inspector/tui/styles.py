"""Signs and colours of severities. Colours are the terminal's own sixteen, so that they suit its light or dark look."""

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
SHARED_SIGN = "="  # a row has nothing but what nearly every frame has

STYLES = {
    Severity.ERROR: Style(color="red", bold=True),
    Severity.WARNING: Style(color="yellow"),
    Severity.NOTE: Style(color="cyan"),
}
WORST_FIRST = (Severity.ERROR, Severity.WARNING, Severity.NOTE)


def sign_of(severity: Severity | None) -> str:
    """The letter of a severity; the good sign for None."""
    return GOOD_SIGN if severity is None else severity.sign


def style_of(severity: Severity | None) -> Style:
    return FAINT if severity is None else STYLES[severity]


def tally(findings: Iterable[Finding]) -> Text:
    """How many findings of each severity, with sign and word: `E 2 errors  i 1 note`."""
    severities = [finding.severity for finding in findings]
    text = Text()
    for severity in WORST_FIRST:
        number = severities.count(severity)
        if number:
            text.append(f"{'  ' if text else ''}{severity.sign} {counted(number, severity.word)}", STYLES[severity])
    return text or Text(f"{GOOD_SIGN} nothing found")


def strip_of(segments: Iterable[Segment], width: int) -> Strip:
    """A line of the screen, exactly `width` cells wide.

    Every segment gets a style, because the filters for NO_COLOR need one.
    """
    styled = [Segment(segment.text, segment.style or PLAIN) for segment in segments]
    return Strip(styled).adjust_cell_length(width, PLAIN).simplify()
