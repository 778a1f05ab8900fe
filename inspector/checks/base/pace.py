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
    1.3,
    "Ratio up to which neighbouring steps are an even pace, so that one longer step can't belong to it.",
)
DROPPED_RUN = Threshold(
    "dropped-run",
    3,
    "Steps at an even pace that must lie on each side of a longer one.",
    "steps",
)
DROPPED_AIM = Threshold(
    "dropped-aim",
    0.25,
    "Share of a long step by which the sampled vertices, in root mean square, may miss the place where their "
    "pace would have brought them. Over a dropped frame motion curves a little; a jump aims elsewhere.",
    "of the step",
)


def dropped_before(context: CheckContext) -> dict[int, float]:
    """Indices of the frames before which others seem to be dropped, and how many usual steps the step to each takes.

    The steps beside are even, the long one goes on in their direction, and every sampled vertex comes where its pace
    brings it in so many steps.
    """
    return context.once(_dropped_before)


def _dropped_before(context: CheckContext) -> dict[int, float]:
    series = context.series
    run = DROPPED_RUN.value
    if series.reference_index is None or len(series.facts) < 2 * run + 2:
        return {}
    steps = series.steps
    around = np.stack([np.roll(steps, shift) for shift in (*range(run, 0, -1), *range(-1, -run - 1, -1))])
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        pace = (around[run - 1] + around[run]) / 2.0
        uneven = np.abs(np.log(around[1:] / around[:-1])).max(axis=0)
        likely = (steps >= DROPPED_STEP.value * pace) & (uneven <= np.log(DROPPED_STEADY.value))
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
