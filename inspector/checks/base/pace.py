"""Even motion, and the steps in it that are too long for one frame."""

from __future__ import annotations

import numpy as np

from inspector.checks.base.context import CheckContext
from inspector.sequence.series import Series
from inspector.threshold import Threshold

DROPPED_STEP = Threshold(
    "dropped-step",
    1.7,
    "How many steps a step must be at least for frames to be dropped before it: one dropped makes two. Real "
    "acceleration doubles a step at most, and not for one frame alone (common practice, no source).",
    "usual steps",
)
DROPPED_STEADY = Threshold(
    "dropped-steady",
    0.65,
    "Share by which a step beside a longer one may differ from the step next to it, point by point: an even motion, so "
    "that one longer step can't belong to it.",
    "of the step",
)
DROPPED_RUN = Threshold(
    "dropped-run",
    2,
    "Steps of an even motion that must lie on each side of a longer one.",
    "steps",
)
DROPPED_AIM = Threshold(
    "dropped-aim",
    0.33,
    "Share of a long step by which the sampled vertices, in root mean square, may miss the place where their "
    "pace would have brought them. Over a dropped frame motion curves a little; a jump aims elsewhere.",
    "of the step",
)


def dropped_before(context: CheckContext) -> dict[int, float]:
    """Indices of the frames before which others seem to be dropped, and how many usual steps the step to each takes.

    The motion is even on both sides, the long step goes on in its direction, and the sampled vertices come where their
    pace brings them in so many steps.
    """
    return context.once(_dropped_before)


def _dropped_before(context: CheckContext) -> dict[int, float]:
    series = context.series
    run = DROPPED_RUN.value
    if series.reference_index is None or len(series.facts) < 2 * run + 2:
        return {}
    steps = series.steps
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        pace = (np.roll(steps, 1) + np.roll(steps, -1)) / 2.0
        ways = np.diff(series.samples, axis=0, prepend=np.nan)
        size = np.sqrt(np.square(ways).sum(axis=(1, 2)))
        change = np.sqrt(np.square(np.diff(ways, axis=0, append=np.nan)).sum(axis=(1, 2)))  # to the next step
        before, behind = np.roll(size, 1), np.roll(size, -1)
        uneven = np.maximum(np.roll(change, 2) / before, np.roll(change, -1) / behind)  # NaN beside a hold or a gap
        uneven = np.maximum(uneven, np.abs(before - behind) / np.maximum(before, behind))
        likely = (steps >= DROPPED_STEP.value * pace) & (uneven <= DROPPED_STEADY.value)
    inner = range(run + 1, len(steps) - run)  # the first frame has no step
    least = 10.0**-series.reference_facts.decimals  # a pace of a few last digits is none
    return {
        index: float(steps[index] / pace[index])
        for index in np.flatnonzero(likely).tolist()
        if index in inner and pace[index] > 10.0 * least and _on_its_way(series, index)
    }


def _on_its_way(series: Series, index: int) -> bool:
    """Whether the sampled vertices move over the step as their pace before and behind says, times one factor."""
    before, start, end, behind = series.samples[index - 2 : index + 2]
    way, pace = end - start, (start - before + behind - end) / 2.0
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        factor = float((way * pace).sum() / np.square(pace).sum())
        missed = float(np.square(way - factor * pace).sum() / np.square(way).sum())
    return bool(factor >= DROPPED_STEP.value and missed <= DROPPED_AIM.value**2)
