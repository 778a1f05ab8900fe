"""Frames that equal the frame before: held, or frozen while the motion went on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.arrays import Floats
from inspector.sequence.series import Series
from inspector.threshold import Threshold

FROZEN_NEXT_STEP = Threshold(
    "frozen-next-step",
    (0.7, 1.4),
    "Bounds for the step after a frozen run of n frames, as a share of n + 1 usual steps. A motion that went "
    "on meanwhile catches up in one step of about that length; a hold goes on with a usual step or a slow "
    "start.",
    "steps due",
)
FROZEN_OVER_USUAL = Threshold(
    "frozen-over-usual",
    1.5,
    "How much longer than the steps on both sides the step after a frozen run must be. Guards a hold between "
    "two paces of motion, where the mean alone would mislead.",
)


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
    low, high = FROZEN_NEXT_STEP.value
    return bool(low * due <= steps[stop] <= high * due and steps[stop] > FROZEN_OVER_USUAL.value * around.max())
