"""Where the keys for the next and the previous problem stop."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

import numpy as np

from inspector.checks.base.finding import Severity
from inspector.report.frame_rows import SequenceView

NO_MORE = {1: "no further problem in this sequence", -1: "no problem before this one"}
"""What is said where no stop lies this way."""

Stop = tuple[int, int]
"""Position in the table, place in the view's findings."""


def stops(view: SequenceView, order: Sequence[int], check: str | None = None) -> list[Stop]:
    """Every place in the table, top down, where an error or a warning begins that isn't on the row above.

    A cause over two hundred frames in a row is one stop; two causes on one frame are two. check: its findings alone,
    notes as well.
    """
    position = np.full(len(view.rows), -1, np.intp)
    position[np.array(order, np.intp)] = np.arange(len(order))
    found: list[Stop] = []
    for at, (finding, rows) in enumerate(zip(view.findings, view.rows_by_finding, strict=True)):
        left_out = finding.severity < Severity.WARNING if check is None else finding.check != check
        if left_out or not len(order):
            continue
        shown = np.sort(position[rows][position[rows] >= 0]) if finding.frames else np.zeros(1, np.intp)
        starts = shown[np.diff(shown, prepend=-2) > 1]
        found += [(int(start), at) for start in starts]
    return sorted(found)


def next_stop(found: Sequence[Stop], position: int, finding: int | None, way: int) -> Stop | None:
    """The stop behind (way > 0) or before a position and the finding chosen there; None if there is none."""
    here = (position, -1 if finding is None else finding)
    at = bisect_right(found, here) if way > 0 else bisect_left(found, here) - 1
    return found[at] if 0 <= at < len(found) else None
