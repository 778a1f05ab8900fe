"""Even motion, and the steps in it that are too long for one frame."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from inspector import limits
from inspector.sequence.series import Series


@lru_cache(maxsize=2)
def dropped_before(series: Series) -> dict[int, float]:
    """Indices of the frames before which others seem to be dropped, and how many usual steps the step to each takes.

    The steps beside are even, the long one goes on in their direction, and every sampled vertex comes where its pace
    brings it in so many steps.
    """
    run = limits.DROPPED_RUN
    if series.reference_index is None or len(series.facts) < 2 * run + 2:
        return {}
    steps = series.steps
    around = np.stack([np.roll(steps, shift) for shift in (*range(run, 0, -1), *range(-1, -run - 1, -1))])
    with np.errstate(divide="ignore", invalid="ignore"):
        pace = (around[run - 1] + around[run]) / 2.0
        uneven = np.abs(np.log(around[1:] / around[:-1])).max(axis=0)
        likely = (steps >= limits.DROPPED_STEP * pace) & (uneven <= np.log(limits.DROPPED_STEADY))
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
    with np.errstate(over="ignore", invalid="ignore"):
        factor = float((way * pace).sum() / np.square(pace).sum())
        missed = float(np.square(way - factor * pace).sum() / np.square(way).sum())
    return bool(factor >= limits.DROPPED_STEP and missed <= limits.DROPPED_AIM**2)
