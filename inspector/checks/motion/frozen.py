"""Frames that repeat the previous frame, because the sequence froze or the pose is held on purpose."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files
from inspector.checks.base.made_frames import made_frames
from inspector.checks.base.stillness import (
    CADENCE_SHARE,
    FROZEN_NEXT_STEP,
    FROZEN_OVER_USUAL,
    PACE_SPREAD,
    frozen_frames,
    still_runs,
)


def run(context: CheckContext) -> Iterator[Finding]:
    made = set(made_frames(context))
    stuck = set(frozen_frames(context))
    still = [index for run in still_runs(context.series) for index in range(*run) if index not in made]
    frozen = [index for index in still if index in stuck]
    held = [index for index in still if index not in stuck]
    if frozen:
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"{count_of(len(frozen), 'frame')} {'repeats' if len(frozen) == 1 else 'repeat'} the previous frame, "
            "although the motion went on",
            context.numbers(frozen),
            files(context, frozen),
            {"frames": len(frozen)},
            CHECK.fixes,
        )
    if held:
        yield Finding(
            CHECK.id,
            Severity.NOTE,
            f"{count_of(len(held), 'frame')} {'repeats' if len(held) == 1 else 'repeat'} the previous frame, and no "
            "jump follows: the pose is probably held on purpose",
            context.numbers(held),
            numbers={"frames": len(held)},
        )


CHECK = Check(
    id="frozen",
    title="Frozen frame",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The frame repeats the previous frame. The next frame then catches up with the motion in one long step.",
        after_import="The motion stutters, and motion blur disappears for a frame.",
        what_to_do="Export the frame again, or use the fix that replaces it with a blend of its neighbours. Held poses "
        "and motion on twos are not faults, so they are reported only as notes.",
    ),
    run=run,
    fixes=("fill-frames",),
    scope=CheckScope.SEQUENCE,
    thresholds=(FROZEN_NEXT_STEP, FROZEN_OVER_USUAL, PACE_SPREAD, CADENCE_SHARE),
)
