"""Complete sequences whose frame numbers are all shifted from the stated range by the same amount."""

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
        raise NotApplicable("no frame range was stated (--frames)")
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
        f"{count:,} frames numbered {frame_text(first)}-{frame_text(last)}, not "
        f"{frame_text(stated[0])}-{frame_text(stated[1])} as stated: no frame is missing, but all numbers are shifted "
        f"by {frame_text(shift)}",
        tuple(sorted(numbers | wanted)),
        numbers={"shift": float(shift), "frames": count},
        fixes=CHECK.fixes,
    )


CHECK = Check(
    id="shifted-numbers",
    title="Frame numbers shifted",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="The sequence is as long as the stated range and has no gap, but every frame number is off by the same "
        "amount: it counts from 0 instead of 1, or from the start of another cut.",
        after_import="Everything is early or late by a fixed number of frames relative to the rest of the shot, and "
        "frames seem to be missing at one end.",
        what_to_do="Use the fix renumber, whose parameter start= sets the first number. Don't fill the apparent gap: "
        "no frame is missing.",
    ),
    run=run,
    fixes=("renumber",),
    scope=CheckScope.FILES,
)
