"""Edits of time that make a motion smooth: frames dropped, exchanged, slowed down, or one that is off by itself.

A few frames in a row are near a cubic over time, whatever the motion. Frames that show other times than their numbers
say are not; at the times that they show they are. A bounce, a start or a cut is not near a cubic either, and no edit of
time makes it so. An object that bounces often turns or bends evenly meanwhile: so its shape is judged for itself, too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from inspector.arrays import Flags, Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.smoothness import ROUGHNESS_LEFT, gaps, places
from inspector.threshold import Threshold

PACE_LEFT = Threshold(
    "pace-left",
    0.04,
    "Share of the squared distances off a smooth motion that may be left when frames are taken to be at half speed. At "
    "0.4 or 0.6 of the speed of an even motion as much is left.",
    "of the squared distances",
)
PACE_TURN = Threshold(
    "pace-turn",
    2.0,
    "How much farther frames may be off their path at half speed than off one with a sudden turn in it, which has more "
    "freedom to come near.",
    "of the squared distances",
)
DROPPED_AIM = Threshold(
    "dropped-aim",
    0.33,
    "Share of a long step by which the sampled vertices, in root mean square, may miss the place where their pace "
    "would have brought them. Over a dropped frame motion curves a little; a jump aims elsewhere.",
    "of the step",
)
NEAR = ((4, 3), (3, 2))
"""Frames on each side of an edit, and the degree of the polynomial that they are near: a cubic of eight frames; of six,
at the ends of a sequence or beside a bounce, a parabola."""
MOST_DROPPED = 8
"""Frames that can be missing between two. Over more, a motion turns."""


@dataclass(frozen=True)
class Motion:
    """Places over time, as what sums of squares of a few frames in a row are made of.

    Attributes:
        products: Of each lag in frames, from 0, the products of each step with the step so many frames later, (n - 1,);
            NaN where one of them is not known, or nothing moves. Of a single frame the first of them, without products.
        least: The sum of squares that rounding may leave, scene units squared.
    """

    products: tuple[Floats, ...]
    least: float

    @property
    def frames(self) -> int:
        return len(self.products[0]) + 1


def paths(context: CheckContext) -> list[Motion]:
    """The motion of the sampled vertices, or of the box where vertices can't be followed; and that of their shape."""
    return context.once(_paths)


def _paths(context: CheckContext) -> list[Motion]:
    return motions(places(context), gaps(context), 10.0**-context.series.reference_facts.decimals)


def motions(followed: Floats, apart: Flags, rounding: float) -> list[Motion]:
    """The motion of places, and of their shape: of the places about their mean.

    Args:
        followed: Places, (n, s, 3), n >= 1, scene units; NaN in frames that can't be compared.
        apart: Frames that don't follow the one before, (n,).
        rounding: The smallest step of the written decimals, scene units.
    """
    if not followed.shape[1]:
        return []
    with np.errstate(over="ignore", invalid="ignore"):
        return [motion_of(path, apart, rounding) for path in (followed, shapes(followed))]


def shapes(followed: Floats) -> Floats:
    """(n, s, 3): places (n, s, 3) about the mean of their frame; infinite or NaN where they are out of all bounds."""
    with np.errstate(over="ignore", invalid="ignore"):
        return np.asarray(followed - followed.mean(axis=1, keepdims=True))


def motion_of(path: Floats, apart: Flags, rounding: float) -> Motion:
    """The motion of places (n, s, 3); see `motions`."""
    steps = np.diff(path.reshape(len(path), -1), axis=0)
    steps[apart[1:] | (steps == 0.0).all(axis=1)] = np.nan  # a pose that is held shows the time of none or of several
    longest = 2 * NEAR[0][0] + 1
    products = [
        np.concatenate([np.einsum("ij,ij->i", steps[: len(steps) - lag], steps[lag:]), np.full(lag, np.nan)])
        for lag in range(max(1, min(longest, len(steps))))
    ]
    return Motion(tuple(products), path[0].size * rounding**2)


def misfits(motion: Motion, times: Sequence[float], degree: int, turn: float | None = None) -> Floats:
    """(m,): of each run of so many frames as `times` has, the sum of squares by which they miss the nearest polynomial.

    Args:
        motion: The places over time.
        times: When each frame of a run is; NaN for one that is left out.
        degree: Of the polynomial.
        turn: A time at which the motion may turn suddenly.
    """
    count = motion.frames - len(times) + 1
    if count < 1:
        return np.empty(0)
    weights = _weights(tuple(times), degree, turn)
    total = np.zeros(count)
    with np.errstate(over="ignore", invalid="ignore"):
        for lag in range(len(weights)):
            for at in range(len(weights) - lag):
                weight = weights[at, at + lag] * (2.0 if lag else 1.0)
                total += weight * motion.products[lag][at : at + count]
    return np.maximum(total, 0.0)


def misfit(path: Floats, times: Sequence[float], degree: int) -> float:
    """The sum of squares by which places (k, s, 3) miss the nearest polynomial over times (k,)."""
    with np.errstate(over="ignore", invalid="ignore"):
        steps = np.diff(path.reshape(len(path), -1), axis=0)
        return float((_weights(tuple(times), degree, None) * (steps @ steps.T)).sum())


@lru_cache(maxsize=512)
def _weights(times: tuple[float, ...], degree: int, turn: float | None) -> Floats:
    """(k - 1, k - 1): the quadratic form of the steps between k frames that is the sum of squares of what is left of
    their places by least squares."""
    when = np.array(times)
    kept = np.isfinite(when)
    own = when[kept] - np.nanmean(when)
    terms = [own**power for power in range(degree + 1)]
    terms += [] if turn is None else [np.abs(own - (turn - np.nanmean(when)))]
    base = np.linalg.qr(np.stack(terms, axis=1))[0]
    left = np.zeros((len(when), len(when)))
    left[np.ix_(kept, kept)] = np.eye(len(own)) - base @ base.T
    from_steps = np.tri(len(when), len(when) - 1, -1)
    return np.asarray(from_steps.T @ left @ from_steps)


def as_it_is(motion: Motion, frames: int, degree: int) -> Floats:
    """(m,): the misfits of runs of so many frames at their own times, with a sudden turn anywhere where that explains
    more."""
    times = range(frames)
    turns = [half / 2.0 for half in range(2, 2 * frames - 3)]
    return np.asarray(np.min([misfits(motion, times, degree, turn) for turn in (None, *turns)], axis=0))


def left_by(motion: Motion, times: Sequence[float], degree: int) -> Floats:
    """(m,): of each run of frames, the share of its misfit that is left at `times`; infinite where that is too much, or
    the run is near a polynomial as it is."""
    plain = as_it_is(motion, len(times), degree)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        left = misfits(motion, times, degree) / plain
        return np.where((left <= ROUGHNESS_LEFT.value) & (plain > motion.least), left, np.inf)


def dropped(of: Sequence[Motion]) -> dict[int, int]:
    """Indices of the frames before which others are missing, and how many are."""
    best: dict[int, tuple[float, int]] = {}
    for motion in of:
        aimed = _on_its_way(motion)
        for reach, degree in NEAR:
            for missing in range(1, MOST_DROPPED + 1):
                left = left_by(motion, (*range(reach), *range(reach + missing, 2 * reach + missing)), degree)
                for start in np.flatnonzero(np.isfinite(left)).tolist():
                    if aimed[start + reach]:
                        best[start + reach] = min(best.get(start + reach, (np.inf, 0)), (float(left[start]), missing))
    return {index: missing for index, (_, missing) in sorted(best.items())}


def _on_its_way(motion: Motion) -> Flags:
    """(n,): frames that are, from the frame before, where the pace before and after leads, times one factor."""
    if motion.frames < 4:
        return np.zeros(motion.frames, bool)
    own, next_one, after_next = motion.products[:3]
    before, step, after = own[:-2], own[1:-1], own[2:]
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        along = next_one[:-2] + next_one[1:-1]  # twice the step times the pace
        pace = before + after + 2.0 * after_next[:-2]  # four times the pace, squared
        missed = 1.0 - along**2 / (pace * step)
        return np.concatenate([[False] * 2, (along > 0.0) & (missed <= DROPPED_AIM.value**2), [False]])


ALONE = (0.0, 1.0, 2.0, np.nan, 4.0, 5.0, 6.0)
"""Frames around one that is left out; near a cubic without it."""


def alone(of: Motion) -> list[int]:
    """Indices of the frames without which the motion is near a cubic, and with which it is not, whatever turns it may
    take."""
    return (np.flatnonzero(np.isfinite(left_by(of, ALONE, 3))) + 3).tolist()


def off_by(places: Floats) -> Floats:
    """(s, 3), scene units: how far the middle one of seven frames is off the cubic nearest to the six others.

    Args:
        places: (7, s, 3).
    """
    return np.asarray(places[3] - np.tensordot(_MIDDLE, places[[0, 1, 2, 4, 5, 6]], 1))


_MIDDLE = np.linalg.pinv(np.vander([-3.0, -2.0, -1.0, 1.0, 2.0, 3.0], 4, increasing=True))[0]
"""Weights of six places in the value at their middle of the cubic nearest to them."""


def exchanged(of: Sequence[Motion]) -> set[int]:
    """Indices of the frames that are in each other's place with the next."""
    found: set[int] = set()
    for motion in of:
        for reach, degree in NEAR:
            times = [*range(2 * reach)]
            times[reach - 1 : reach + 1] = [reach, reach - 1]
            found.update((np.flatnonzero(np.isfinite(left_by(motion, times, degree))) + reach - 1).tolist())
    return found


def slower(of: Sequence[Motion]) -> tuple[list[int], list[int]]:
    """Frames from which on the motion runs at half speed, and frames from which on it runs at full speed again.

    Half speed must explain the frames as well as a sudden turn does: that is what halves the speed of a bounce.
    """
    starts: set[int] = set()
    stops: set[int] = set()
    for motion in of:
        for reach, degree in NEAR:
            times = [float(at) for at in range(reach)] + [reach + at / 2.0 for at in range(reach + 1)]
            back = [2.0 * reach - at for at in reversed(times)]
            plain, turned = misfits(motion, range(len(times)), degree), as_it_is(motion, len(times), degree)
            for found, edit in ((starts, times), (stops, back)):
                edited = misfits(motion, edit, degree)
                with np.errstate(invalid="ignore"):
                    fits = (edited <= PACE_LEFT.value * plain) & (edited <= PACE_TURN.value * turned)
                    found.update((np.flatnonzero(fits & (plain > motion.least)) + reach + 1).tolist())
    return sorted(starts), sorted(stops)
