"""A complete sequence whose numbers are all off the stated range by the same amount."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import number_shift
from inspector.sequence.discovery.settings import frame_text


def run(context: CheckContext) -> Iterator[Finding]:
    stated, sequence = context.settings.expected, context.series.sequence
    if stated is None:
        raise NotApplicable("no range of frames was stated")
    shift = number_shift(context)
    if shift is None:
        return
    first, last = sequence.files[0].number, sequence.files[-1].number
    count = len(sequence.files)
    numbers = {file.number for file in sequence.files}
    wanted = {number - shift for number in numbers}
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        f"{count:,} frames numbered {frame_text(first)}-{frame_text(last)} where {frame_text(stated[0])}-"
        f"{frame_text(stated[1])} was stated: none is missing, all are shifted by {frame_text(shift)}",
        tuple(sorted(numbers | wanted)),
        numbers={"shift": float(shift), "frames": count},
        fixes=CHECK.fixes,
    )


CHECK = Check(
    id="shifted-numbers",
    title="Frame numbers shifted",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="There are as many frames as the stated range has, without a gap, but each number is off by the same "
        "amount: counted from 0 instead of 1, or from the start of another cut.",
        after_import="Everything happens that many frames too early or too late against the rest of the shot, and a "
        "frame seems to be missing at one end.",
        what_to_do="Renumber the frames; start= sets the first number. Don't fill the end: no frame is missing.",
    ),
    run=run,
    fixes=("renumber",),
    scope=CheckScope.FILES,
)
