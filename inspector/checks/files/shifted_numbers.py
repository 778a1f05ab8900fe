"""Sequences that are complete, but whose frame numbers are all shifted from the stated range by the same amount."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, number_shift
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
        f"{count_of(count, 'frame')} numbered {frame_text(first)}-{frame_text(last)}, not "
        f"{frame_text(stated[0])}-{frame_text(stated[1])} as stated: no frame is missing, but all numbers are too "
        f"{'large' if shift > 0 else 'small'} by {frame_text(abs(shift))}",
        tuple(sorted(numbers | wanted)),
        numbers={"shift": float(shift), "frames": count},
        fixes=CHECK.fixes,
    )


CHECK = Check(
    id="shifted-numbers",
    title="Frame numbers shifted",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="The sequence is as long as the stated range and has no gap, but all frame numbers are off by the same "
        "amount. For example, the numbers start at 0 instead of 1, or belong to a different cut.",
        after_import="The animation is early or late by a constant number of frames relative to the rest of the shot. "
        "At one end of the shot, frames seem to be missing.",
        what_to_do="Use the fix `renumber` and its parameter `start`, which sets the first frame number. Don't fill "
        "the apparent gap, because no frame is missing.",
    ),
    run=run,
    fixes=("renumber",),
    scope=CheckScope.FILES,
)
