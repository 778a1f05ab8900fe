"""Frames that were dropped without leaving a gap in the frame numbers."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, count_of, files, these_frames
from inspector.checks.base.smoothness import ROUGHNESS_LEFT, gaps
from inspector.checks.base.steps import JUMPS_OF_A_POSE_SET
from inspector.checks.base.stillness import held_poses
from inspector.checks.base.time_edits import DROPPED_AIM, NEAR, dropped, paths
from inspector.threshold import Threshold

CADENCE_KEPT = Threshold(
    "cadence-kept",
    0.9,
    "A pose that is held for fewer frames than usual counts as cut short only if at least this share of the poses are "
    "held for the usual number of frames. In motion that changes between ones, twos and threes, the share is smaller, "
    "because many poses are short (common practice, no source).",
    "of the poses",
)


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    if len(context.series.facts) < 2 * NEAR[-1][0]:
        raise NotApplicable("too few frames to judge the pace of the motion")
    found = dict(sorted((dropped(paths(context)) | _cut_short(context)).items()))
    if not found or len(found) > max(2.0, JUMPS_OF_A_POSE_SET.value * len(context.series.facts)):
        return
    most, lost = max(found.values()), sum(found.values())
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"{count_of(lost, 'frame')} {'seems' if lost == 1 else 'seem'} to have been dropped before "
        f"{these_frames(found)}: the motion skips ahead, although no frame number is missing",
        context.numbers(list(found)),
        files(context, found),
        {"steps": most + 1, "dropped": lost},
    )


def _cut_short(context: CheckContext) -> dict[int, int]:
    """Find poses that are held for fewer frames than nearly all other poses, although no frame number is missing.

    Returns:
        Index of the frame after such a pose -> number of frames missing before that frame. Empty unless nearly all
        poses are held for the same number of frames, at least two.
    """
    poses, apart = held_poses(context.series), gaps(context)
    lengths = [stop - start for start, stop in poses]
    inner = lengths[1:-1]
    held = max(set(inner), key=inner.count, default=1)
    if held < 2 or inner.count(held) < CADENCE_KEPT.value * len(inner):
        return {}
    return {
        poses[at][1]: held - lengths[at]
        for at in range(2, len(poses) - 2)
        if lengths[at] < held == lengths[at - 1] == lengths[at + 1] and not apart[poses[at][0] : poses[at][1] + 1].any()
    }


CHECK = Check(
    id="dropped-frames",
    title="Frames dropped, later frames renumbered",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The motion skips ahead from one frame to the next, so one or more frames in between were probably "
        "dropped. The later frames were then renumbered, so the range looks complete.",
        after_import="The motion hitches. After the hitch, everything is early relative to the sound and the plate.",
        what_to_do="Compare the number of frames with the frame range of the scene, and export the sequence again. The "
        "dropped frames can't be recovered from the files.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(ROUGHNESS_LEFT, DROPPED_AIM, CADENCE_KEPT, JUMPS_OF_A_POSE_SET),
)
