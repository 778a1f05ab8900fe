"""Runs of frames in which the motion has half its usual speed."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files
from inspector.checks.base.steps import JUMPS_OF_A_POSE_SET
from inspector.checks.base.stillness import frozen_frames
from inspector.checks.base.time_edits import PACE_LEFT, PACE_TURN, paths, slower
from inspector.threshold import Threshold

PACE_RUN = Threshold(
    "pace-run",
    4,
    "Half speed is reported only if it lasts for at least this many consecutive frames. Shorter runs are left out, "
    "because other checks report them.",
    "frames",
)
PACE_MOST = Threshold(
    "pace-most",
    0.5,
    "A run at half speed is reported only if it contains at most this share of the frames. A longer run is not "
    "reported, because half speed is then the normal speed of the motion.",
    "of the frames",
)


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    runs = [run for run in _runs(context) if not set(range(*run)) & set(frozen_frames(context))]
    indices = [index for start, stop in runs for index in range(start, stop)]
    if not indices or len(runs) > max(2.0, JUMPS_OF_A_POSE_SET.value * len(context.series.facts)):
        return
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        "the motion slows down to half speed and then returns to full speed, so everything afterwards is late",
        context.numbers(indices),
        files(context, indices),
        {"runs": len(runs), "frames": len(indices)},
    )


def _runs(context: CheckContext) -> list[tuple[int, int]]:
    """Return the runs, as start:stop, of frames at half speed. They don't overlap.

    A run has at least PACE_RUN frames, and at most the share PACE_MOST of all frames.
    """
    frames = len(context.series.facts)
    starts, stops = slower(paths(context))
    found: list[tuple[int, int]] = []
    for start in starts:
        stop = next((stop for stop in stops if stop >= start + PACE_RUN.value), None)
        if stop is not None and stop - start <= PACE_MOST.value * frames and (not found or start >= found[-1][1]):
            found.append((start, stop))
    return found


CHECK = Check(
    id="pace-change",
    title="Half speed for some frames",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="From one frame to the next, the motion slows down to half speed on the same path. Some frames later, it "
        "returns to full speed. Natural motion slows down gradually.",
        after_import="The motion drags for a moment. From then on, everything is late relative to the sound and the "
        "plate.",
        what_to_do="Look for a time warp, a change of frame rate, or frames left over from a test export at a "
        "different rate. Then export the slow frames and all later frames again.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(PACE_LEFT, PACE_TURN, PACE_RUN, PACE_MOST, JUMPS_OF_A_POSE_SET),
)
