"""Find the next or the previous match or problem in the frame table."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

import numpy as np

from inspector.checks.base.finding import Finding, Severity
from inspector.report.frame_rows import SequenceView
from inspector.tui.columns import title_of

Stop = tuple[int, int]
"""A match or a problem: the position of its row in the table, and the index of its finding in the view, or -1 if the
frame itself matches."""


def problems(view: SequenceView, order: Sequence[int]) -> list[Stop]:
    """Find, from the top of the table down, the rows where an error or a warning begins.

    A finding begins on a row if the row has the finding and the row above doesn't. Findings that begin on the same row
    are all listed. A finding that names no frames is listed on the first row.
    """
    serious = [at for at, finding in enumerate(view.findings) if finding.severity >= Severity.WARNING]
    return _starts(view, order, serious)


def matches(view: SequenceView, order: Sequence[int], text: str) -> list[Stop]:
    """Find, from the top of the table down, the rows that match a text. Case is ignored.

    A finding matches by its check, title, message or file names. A frame matches by its file name or materials. A
    finding on consecutive rows is listed once.
    """
    wanted = text.casefold()
    found = [at for at, finding in enumerate(view.findings) if _has(finding, wanted)]
    stops = _starts(view, order, found)
    for position, row in enumerate(order):
        facts = view.facts_of(row)
        names = () if facts is None else (facts.file.name, *facts.materials)
        if any(wanted in name.display.casefold() for name in names):
            stops.append((position, -1))
    return sorted(stops)


def _has(finding: Finding, wanted: str) -> bool:
    texts = (finding.check, title_of(finding.check), finding.message, *(where.file.display for where in finding.where))
    return any(wanted in text.casefold() for text in texts)


def _starts(view: SequenceView, order: Sequence[int], findings: Sequence[int]) -> list[Stop]:
    if not len(order):
        return []
    position = np.full(len(view.rows), -1, np.intp)
    position[np.array(order, np.intp)] = np.arange(len(order))
    found: list[Stop] = []
    for at in findings:
        rows = view.rows_by_finding[at]
        shown = np.sort(position[rows][position[rows] >= 0]) if view.findings[at].frames else np.zeros(1, np.intp)
        starts = shown[np.diff(shown, prepend=-2) > 1]
        found += [(int(start), at) for start in starts]
    return sorted(found)


def next_stop(found: Sequence[Stop], position: int, finding: int | None, step: int) -> Stop | None:
    """Return the next (`step` above 0) or the previous match or problem; None if there is none in that direction.

    The search starts at a position in the table and at the chosen finding, if any.
    """
    here = (position, -1 if finding is None else finding)
    at = bisect_right(found, here) if step > 0 else bisect_left(found, here) - 1
    return found[at] if 0 <= at < len(found) else None
