"""Frames that equal the frame before: held, or frozen while the motion went on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector import limits
from inspector.arrays import Floats
from inspector.sequence.series import Series


def frozen_frames(series: Series) -> list[int]:
    """Indices of the frames that repeat the one before although the motion went on."""
    runs = [run for run in still_runs(series) if motion_went_on(series.steps, *run)]
    return [index for start, stop in runs for index in range(start, stop)]


def still_runs(series: Series) -> Iterator[tuple[int, int]]:
    """Runs start:stop of frames that each equal the frame before; files with a repeated number don't count."""
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
    """Whether the step behind the still run catches up with what it missed: about as many usual steps as frames.

    Both neighbouring steps must be there and move: at the ends, and around other stills, it is a hold.
    """
    if start < 1 or stop + 1 >= len(steps):
        return False
    around = np.array([steps[start - 1], steps[stop + 1]])
    if not np.isfinite(around).all() or (around <= 0).any():
        return False
    usual = around.mean()
    due = (stop - start + 1) * usual
    low, high = limits.FROZEN_NEXT_STEP
    return bool(low * due <= steps[stop] <= high * due and steps[stop] > limits.FROZEN_OVER_USUAL * around.max())
