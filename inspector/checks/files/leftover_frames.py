"""Frames of an older export before or after the frames of a newer export."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.exports import SEAM_PAUSES, SEAM_SECONDS, leftovers
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files


def run(context: CheckContext) -> Iterator[Finding]:
    found = leftovers(context)
    if found is None:
        return
    indices, sign = found
    times = [facts.file.mtime_ns / 1e9 for facts in context.series.facts]
    newer = [time for index, time in enumerate(times) if index not in indices]
    hours = (min(newer) - max(times[index] for index in indices)) / 3600
    end = "first" if indices[0] == 0 else "last"
    which, differ = ("frame is", "differs") if len(indices) == 1 else (f"{len(indices):,} frames are", "differ")
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"the {end} {which} {count_of(round(hours), 'hour')} older than all other frames and {differ} from "
        f"them ({sign})",
        context.numbers(indices),
        files(context, indices),
        {"frames": len(indices), "hours": round(hours, 2), "sign": sign},
    )


CHECK = Check(
    id="leftover-frames",
    title="Frames left over from an older export",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Frames at the beginning or at the end of the sequence are older than all other frames and differ from "
        "them. A shorter export was probably written over an older, longer export.",
        after_import="The shot is too long: the extra frames show an older state of the object.",
        what_to_do="Compare the frame numbers with the agreed range (--frames). Then delete the leftover frames, or "
        "export them again.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(SEAM_SECONDS, SEAM_PAUSES),
)
