"""Find frames that repeat the previous frame, either on purpose (held) or although the motion went on (frozen)."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.smoothness import ROUGHNESS_LEFT, places
from inspector.checks.base.time_edits import NEAR, misfit, shapes
from inspector.sequence.series import Series
from inspector.threshold import Threshold

FROZEN_NEXT_STEP = Threshold(
    "frozen-next-step",
    (0.7, 1.4),
    "If the motion continued during a run of n frozen frames, the step after the run catches up with the motion, so "
    "the step is about n + 1 usual steps long. The values are the minimum and maximum length of such a step, as "
    "multiples of the length of n + 1 usual steps. After a hold, by contrast, the motion continues with a usual step "
    "or starts slowly.",
    "of n + 1 usual steps",
)
FROZEN_OVER_USUAL = Threshold(
    "frozen-over-usual",
    1.25,
    "The motion counts as having continued during a frozen run only if the step after the run is more than this many "
    "times as long as the usual step. Here, the usual step is the longer of two steps: the usual step before the run "
    "and the usual step after the run. With the mean of these two steps, a hold between slow and fast motion would be "
    "reported.",
)
CADENCE_SHARE = Threshold(
    "cadence-share",
    0.25,
    "A frozen run doesn't count as a fault if more than this share of the surrounding poses, and at least three poses, "
    "are held for at least as many frames as the pose of the run. In that case, the motion is drawn on twos or threes, "
    "or alternates between twos and threes (common practice, no source).",
    "of the poses",
)
PACE_SPREAD = Threshold(
    "pace-spread",
    4.0,
    "The usual step before or after a frozen run is the mean of several steps on that side of the run. If the longest "
    "of these steps is more than this many times as long as the shortest, the longest step counts as a jump, and the "
    "step nearest to the run is used instead of the mean. Steps of length 0 don't count as the shortest. A ratio of 2 "
    "or 3 is allowed, because on twos and threes, one step may be two or three times as long as another.",
)
CADENCE_AROUND = 24
"""Number of frames, on each side of a run, within which poses are counted. At film rates, this is one second."""


def frozen_frames(context: CheckContext) -> list[int]:
    """Return the indices of frames that repeat the previous frame although the motion went on."""
    return context.once(_frozen_frames)


def _frozen_frames(context: CheckContext) -> list[int]:
    series = context.series
    steps = paces(context)
    poses = held_poses(series)
    found: set[int] = set()
    for start, stop in still_runs(series):
        held = _usual_hold(poses, start)
        late = _shifted(poses, start, held)
        if late:
            found.update(range(stop - late, stop))
        elif (stop - start + 1) % held == 0 and is_rare(poses, start, stop):  # whole poses are lost
            went_on = _smoother_if_it_went_on(context, poses, start, held)
            if motion_went_on(steps, start, stop) if went_on is None else went_on:
                found.update(range(min(start + held - 1, stop - 1), stop))
    return sorted(found)


def _smoother_if_it_went_on(context: CheckContext, poses: list[tuple[int, int]], start: int, held: int) -> bool | None:
    """Whether the motion went on during a still run; None if no timing gives a clearly smoother path.

    Three timings of the surrounding poses are compared: during the run, the motion went on, paused, or turned back (as
    a ball does at the top of a throw). The result is False if the motion paused or turned back.
    """
    series, followed = context.series, places(context)
    at = next(number for number, pose in enumerate(poses) if pose[0] == start - 1)
    for reach, degree in NEAR:
        shown = [first for first, _ in poses[max(0, at + 1 - reach) : at + 1 + reach]]
        if (
            at + 1 < reach
            or len(shown) < 2 * reach
            or series.times[shown[-1]] - series.times[shown[0]] != (shown[-1] - shown[0])
        ):
            continue
        extra = poses[at][1] - poses[at][0] - held
        waited = [first - extra * (first > start) for first in shown]
        for path in (followed, shapes(followed)):
            if_it_went_on, if_it_waited = (misfit(path[shown], times, degree) for times in (shown, waited))
            if_it_is_so = misfit(path[shown[0] : shown[-1] + 1], range(shown[0], shown[-1] + 1), degree)
            if if_it_went_on <= ROUGHNESS_LEFT.value * min(if_it_waited, if_it_is_so):
                return True
            if min(if_it_waited, if_it_is_so) <= ROUGHNESS_LEFT.value * if_it_went_on:
                return False
    return None


def paces(context: CheckContext) -> Floats:
    """Return the mean distance that vertices move from the previous frame to each frame, (n,), in scene units.

    An unknown distance is NaN. If the distance is unknown for at least half of the frames, the points from `places` are
    followed instead.
    """
    series = context.series
    steps = series.steps
    if 2 * np.isfinite(steps).sum() > len(steps):
        return steps
    with np.errstate(over="ignore", invalid="ignore"):
        ways = np.linalg.norm(np.diff(places(context), axis=0), axis=2).mean(axis=1)
    ways[~series.follows[1:]] = np.nan
    return np.concatenate([[np.nan], ways])


def held_poses(series: Series) -> list[tuple[int, int]]:
    still = {index for run in still_runs(series) for index in range(*run)}
    starts = [index for index in range(len(series.facts)) if index not in still]
    return list(zip(starts, [*starts[1:], len(series.facts)], strict=True))


def _around(poses: list[tuple[int, int]], at: int) -> list[int]:
    """Return the number of frames for which each pose near a frame is held.

    The first and the last pose of the sequence are left out.
    """
    return [stop - start for start, stop in poses[1:-1] if abs(start - at) <= CADENCE_AROUND]


def _usual_hold(poses: list[tuple[int, int]], at: int) -> int:
    """Return the number of frames for which most poses near a frame are held; 1 if there is no such number."""
    lengths = _around(poses, at)
    held = max(set(lengths), key=lengths.count, default=1)
    return held if 2 * lengths.count(held) > len(lengths) else 1


def is_rare(poses: list[tuple[int, int]], start: int, stop: int) -> bool:
    """Whether few poses near a still run, start:stop, are held at least as long as the pose of the run.

    Several long poses in a row at either end of the sequence don't count as rare, because a motion may begin or end on
    threes.
    """
    lengths = _around(poses, start)
    if sum(length > stop - start for length in lengths) > max(2.0, CADENCE_SHARE.value * len(lengths)):
        return False
    as_long = [end - begin > stop - start for begin, end in poses]
    first = last = next(number for number, pose in enumerate(poses) if pose[1] >= stop)
    while first > 0 and as_long[first - 1]:
        first -= 1
    while last + 1 < len(poses) and as_long[last + 1]:
        last += 1
    return first == last or 1 < first <= last < len(poses) - 2


def _shifted(poses: list[tuple[int, int]], start: int, held: int) -> int:
    """Return the number of frames by which the pose of a still run is held too long, at the expense of the next pose.

    The result is 0 unless the next pose is held too briefly by the same number of frames.
    """
    at = next((number for number, pose in enumerate(poses) if pose[0] == start - 1), None)
    if held < 2 or at is None or at + 2 >= len(poses):
        return 0
    late = poses[at][1] - poses[at][0] - held
    return late if 0 < late == held - (poses[at + 1][1] - poses[at + 1][0]) else 0


def still_runs(series: Series) -> Iterator[tuple[int, int]]:
    """Yield the runs, as start:stop, of frames that repeat the previous frame under a different frame number."""
    facts = series.facts
    still = [facts[index].still and facts[index].number != facts[index - 1].number for index in range(len(facts))]
    start = None
    for index, quiet in enumerate([*still, False]):
        if quiet and start is None:
            start = index
        elif not quiet and start is not None:
            yield start, index
            start = None


def motion_went_on(steps: Floats, start: int, stop: int) -> bool:
    """Whether the step after a still run, start:stop, makes up for the motion that the run missed.

    After a run of n frames, this step must be about as long as n + 1 steps at the pace before and after the run. The
    result is False if the pace or the step is unknown, or if the pace is 0. `steps` is the result of `paces`.
    """
    length = stop - start + 1
    before, after = steps[max(1, start - length) : start][::-1], steps[stop + 1 : stop + 1 + length]
    if not len(before) or not len(after):
        return False
    around = np.array([_pace(before), _pace(after)])
    if not np.isfinite([*around, steps[stop]]).all() or (around <= 0).any():
        return False
    due = length * around.mean()
    low, high = FROZEN_NEXT_STEP.value
    return bool(low * due <= steps[stop] <= high * due and steps[stop] > FROZEN_OVER_USUAL.value * around.max())


def _pace(steps: Floats) -> float:
    """Return the typical length of the steps beside a run.

    This is the mean length, because every second step of a motion on twos is zero. If a step is unknown or a jump, the
    length of the nearest step is returned instead.

    Args:
        steps: Lengths of the steps, the nearest first, (k,).
    """
    moves = steps[steps > 0.0]
    if not np.isfinite(steps).all() or (len(moves) and moves.max() > PACE_SPREAD.value * moves.min()):
        return float(steps[0])
    return float(steps.mean())
