"""Frames over which the motion runs at half or double speed, and then on as before."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.check import Check, Rationale, Scope
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files
from inspector.checks.base.steps import JUMPS_OF_A_POSE_SET
from inspector.checks.base.stillness import frozen_frames
from inspector.threshold import Threshold

PACE_MISS = Threshold(
    "pace-miss",
    0.2,
    "Share of a step by which it may miss the path at the other pace: motion curves a little within a step.",
    "of the step",
)
PACE_BETTER = Threshold(
    "pace-better",
    2.0,
    "How much closer the step must be to the path at the other pace than at the one before. A motion that slows down "
    "or starts by itself does so over several frames (common practice, no source).",
)
PACE_STEADY = Threshold(
    "pace-steady",
    0.4,
    "Share by which the last step before a change may differ from the one before it: an even motion.",
    "of the step",
)
PACE_RUN = Threshold(
    "pace-run", 4, "Frames at the other pace at least; fewer are told of as frozen or out of place.", "frames"
)
PACE_MOST = Threshold(
    "pace-most",
    0.5,
    "Share of the frames at the other pace at most: otherwise it is the pace.",
    "of the frames",
)


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    runs = [run for run in _runs(context) if not set(range(*run)) & set(frozen_frames(context.series))]
    indices = [index for start, stop in runs for index in range(start, stop)]
    if not indices or len(runs) > max(2.0, JUMPS_OF_A_POSE_SET.value * len(context.series.facts)):
        return
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        "the motion runs at half speed, and then on as before: all that follows comes late",
        context.numbers(indices),
        files(context, indices),
        {"runs": len(runs), "frames": len(indices)},
    )


def _runs(context: CheckContext) -> list[tuple[int, int]]:
    """Runs start:stop of frames at half speed."""
    series = context.series
    if series.samples.shape[1] == 0 or len(series.facts) < PACE_RUN.value + 6:
        return []
    with np.errstate(over="ignore", invalid="ignore"):
        steps = np.diff(series.samples, axis=0)
    steps[~series.follows[1:]] = np.nan
    slower, faster = _changes(steps, 0.5), _changes(steps[::-1], 0.5)
    starts = [index + 1 for index in np.flatnonzero(slower).tolist()]
    stops = [len(steps) + 1 - index for index in np.flatnonzero(faster).tolist()]
    found = []
    for start in starts:
        stop = next((stop for stop in stops if stop > start), None)
        if stop is not None and PACE_RUN.value <= stop - start <= PACE_MOST.value * len(series.facts):
            found.append((start, stop))
    return found


def _changes(steps: Floats, factor: float) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """(m,): whether the motion goes on from each step (m, s, 3) at another pace than before, on the same path.

    At a pace p the middle of the next step is (1 + p) / 2 steps after that of the last one; the path is taken on from
    the last two steps.
    """
    changes = np.zeros(len(steps), bool)
    if len(steps) < 4:
        return changes
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        last, before, here, after = steps[1:-2], steps[:-3], steps[2:-1], steps[3:]
        at_pace = factor * (last + (last - before) * (1.0 + factor) / 2.0)
        as_before = last + (last - before)
        size = np.sqrt(np.square(at_pace).sum(axis=(1, 2)))
        missed = np.sqrt(np.square(here - at_pace).sum(axis=(1, 2)))
        missed_before = np.sqrt(np.square(here - as_before).sum(axis=(1, 2)))
        goes_on = np.sqrt(np.square(after - here).sum(axis=(1, 2)))
        came_on = np.sqrt(np.square(last - before).sum(axis=(1, 2)))
        changes[2:-1] = (
            (size > 0.0)
            & (missed <= PACE_MISS.value * size)
            & (missed_before > PACE_BETTER.value * missed)
            & (missed_before > PACE_BETTER.value * goes_on)
            & (came_on <= PACE_STEADY.value * np.sqrt(np.square(last).sum(axis=(1, 2))))
        )
    return changes


CHECK = Check(
    id="pace-change",
    title="Another pace for some frames",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="From one frame to the next the motion runs at half speed on the same path, and some frames later at full "
        "speed again. Motion that slows down by itself does so gradually.",
        after_import="The motion drags for a moment, and from there on everything comes late against sound and plate.",
        what_to_do="Look for a time warp, a frame rate that changes, or frames of a test export at another rate in "
        "between, and export these frames again.",
    ),
    run=run,
    scope=Scope.SEQUENCE,
    thresholds=(PACE_MISS, PACE_BETTER, PACE_STEADY, PACE_RUN, PACE_MOST, JUMPS_OF_A_POSE_SET),
)
