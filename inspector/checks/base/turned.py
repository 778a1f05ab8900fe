"""Frames that lie on their back: turned by a right angle about x, as between y up and z up."""

from __future__ import annotations

from collections import Counter

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.steps import JUMPS_OF_A_POSE_SET
from inspector.threshold import Threshold

TURN_POINTS = Threshold(
    "turn-points",
    4,
    "Sampled vertices from which a turn can be told: three may come to lie so by chance.",
    "vertices",
)
TURN_MISS = Threshold(
    "turn-miss",
    0.1,
    "Share of their spread by which sampled vertices may miss the place where a quarter turn brings them from "
    "the frame before: a step of the motion itself.",
    "of their spread",
)
TURN_BETTER = Threshold(
    "turn-better",
    2.0,
    "How much closer a quarter turn must bring the vertices than none. What is nearly round about x fits both.",
)

FORTH, BACK = 1, -1
"""y to z, as from y up to z up; and z to y."""


def turned_frames(context: CheckContext) -> tuple[int, ...]:
    """Indices of the frames that are turned against most others, rising. A motion that turns so fast by itself, again
    and again, is none."""
    return context.once(_turned_frames)


def _turned_frames(context: CheckContext) -> tuple[int, ...]:
    series = context.series
    frames = [int(index) for index in np.flatnonzero(np.isfinite(series.samples).all(axis=(1, 2)))]
    if not frames or series.samples.shape[1] < TURN_POINTS.value:
        return ()
    state, states, turns = 0, {}, 0
    for before, index in zip([frames[0], *frames], frames, strict=False):
        turn = quarter_turn(series.samples[before], series.samples[index], TURN_MISS.value)
        turns += turn != 0
        state += turn
        states[index] = state
    if turns > max(2.0, JUMPS_OF_A_POSE_SET.value * len(frames)):
        return ()
    usual = Counter(states.values()).most_common(1)[0][0]
    return tuple(index for index in frames if states[index] != usual)


def quarter_turn(before: Floats, after: Floats, most: float) -> int:
    """FORTH or BACK where points (s, 3) came to `after` by that turn about x, wherever they stand, and not by less; 0
    elsewhere. `most`: the miss allowed, root mean square, as a share of their spread about their middle."""
    with np.errstate(over="ignore", invalid="ignore"):
        here, there = before - before.mean(axis=0), after - after.mean(axis=0)
        x, y, z = here.T
        candidates = {0: here, FORTH: np.stack([x, -z, y], axis=-1), BACK: np.stack([x, z, -y], axis=-1)}
        size = float(np.square(here).sum())
        misses = {turn: float(np.square(there - points).sum()) for turn, points in candidates.items()}
    best = min((FORTH, BACK), key=misses.__getitem__)
    fits = size > 0.0 and misses[best] <= most**2 * size
    return best if fits and misses[best] * TURN_BETTER.value**2 < misses[0] else 0
