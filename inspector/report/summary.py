"""Many sequences on one screen: a line each, the worst first."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.finding import Severity
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.report.text import counted, sequence_title
from inspector.report.text_style import Look

_GOOD = "."
"""The sign of a sequence in which nothing was found; no letter, so that the eye skips it."""


def summary_lines(result: FolderInspection, look: Look) -> Iterator[str]:
    """`E error   9 errors, 4 warnings  manta_broken/manta_broken.####.obj`, worst first; none for a lone sequence."""
    if len(result.inspections) < 2:
        return
    yield look.strong("summary, worst first")
    said = [(one, found_words(one)) for one in worst_first(result)]
    width = max(len(words) for _, words in said)
    for one, words in said:
        worst = worst_of(one)
        sign = _GOOD.ljust(Look.SEVERITY_CELLS) if worst is None else look.severity(worst)
        start = " " * Look.SEVERITY_CELLS + words.ljust(width) + "  "
        title, *more = look.wrap(sequence_title(one.sequence), start)
        yield sign + title[Look.SEVERITY_CELLS :]
        yield from more
    yield ""


_WORST_FIRST = tuple(reversed(Severity))


def worst_first(result: FolderInspection) -> list[Inspection]:
    """The sequences, those with most errors first, then by warnings and infos."""
    return sorted(result.inspections, key=_counts, reverse=True)


def worst_of(one: Inspection) -> Severity | None:
    """The worst severity that was found, None where nothing was."""
    return max((finding.severity for finding in one.findings), default=None)


def _counts(one: Inspection) -> tuple[int, ...]:
    """Findings of each severity, the worst first."""
    return tuple(sum(finding.severity is severity for finding in one.findings) for severity in _WORST_FIRST)


def found_words(one: Inspection) -> str:
    """`9 errors, 4 warnings`."""
    found = zip(_counts(one), _WORST_FIRST, strict=True)
    return ", ".join(counted(count, severity.word) for count, severity in found if count) or "nothing found"
