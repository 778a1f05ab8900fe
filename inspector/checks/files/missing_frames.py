"""Frames that should exist but have no file."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of
from inspector.sequence.discovery.discover import Sequence
from inspector.sequence.discovery.settings import frame_text


def run(context: CheckContext) -> Iterator[Finding]:
    sequence, expected = context.series.sequence, context.settings.expected
    inside = set(sequence.missing)
    stated = set() if expected is None else set(_missing_numbers(sequence, *expected))
    stated -= context.explained
    missing = tuple(sorted(inside | stated))
    if not missing:
        return
    outside = stated - inside
    ends = len(outside)
    extent = ""
    if outside and expected is not None:
        sides = {number < sequence.files[0].number for number in outside}
        where = "ends" if len(sides) > 1 else "start" if True in sides else "end"
        at_ends = f"at the {where} of the stated range {frame_text(expected[0])}-{frame_text(expected[1])}"
        between = len(missing) - ends
        extent = f": {between:,} between existing frames and {ends:,} {at_ends}" if between else f" {at_ends}"
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        f"{count_of(len(missing), 'frame')} missing{extent}",
        missing,
        numbers={"missing": len(missing), "first": float(missing[0]), "last": float(missing[-1])},
        fixes=CHECK.fixes,
    )


def _missing_numbers(sequence: Sequence, first: Fraction, last: Fraction) -> Iterator[Fraction]:
    """Yield the frame numbers of the stated range that come before the first file or after the last file.

    The numbers have the same step as the sequence.

    Args:
        sequence: The sequence.
        first: First frame number of the stated range.
        last: Last frame number of the stated range.
    """
    start, end = sequence.files[0].number, sequence.files[-1].number
    yield from (number for number in sequence.grid.numbers(first, last) if not start <= number <= end)


CHECK = Check(
    id="missing-frames",
    title="Missing frames",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="Some frame numbers between the first and the last frame, or in the range that you stated, have no file.",
        after_import="The motion stutters or the object vanishes on these frames. Some readers stop at the first gap.",
        what_to_do="Export the missing frames, or use the fix that estimates them.",
    ),
    run=run,
    fixes=("fill-frames",),
    scope=CheckScope.FILES,
    explained_by=("shifted-numbers",),
)
