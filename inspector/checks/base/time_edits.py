"""Find frames that are dropped, exchanged, slowed down or off their path. Undoing such a fault makes the motion smooth.

In smooth motion, the positions in any few consecutive frames are near a cubic function of time if each frame is placed
at the time that it shows. At a bounce, a start or a cut, the positions are not near a cubic, wherever the frames are
placed in time. The shape of an object is also judged separately, because an object may turn or bend evenly while it
bounces.
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
    "Frames count as being at half speed only if a path at half speed fits them far better than a path at full speed. "
    "Their squared distances from the path at half speed must be at most this share of those from the path at full "
    "speed. With a higher limit, frames of an even motion at 0.4 or 0.6 of the full speed would also count as being at "
    "half speed.",
    "of the squared distances",
)
PACE_TURN = Threshold(
    "pace-turn",
    2.0,
    "Frames count as being at half speed only if a path at half speed fits them about as closely as a path with a "
    "sudden turn. Their squared distances from the path at half speed must be at most this many times as large as "
    "those from the path with a turn. The limit is above 1, because a path with a turn has more parameters and "
    "therefore fits more closely.",
)
DROPPED_AIM = Threshold(
    "dropped-aim",
    0.33,
    "Frames can count as dropped at a long step only if the step follows the direction of the motion before and after "
    "it. The value is the maximum root-mean-square distance by which the sampled vertices may deviate from this "
    "direction, as a share of the step. Some distance is allowed, because motion curves a little over a dropped frame. "
    "A jump deviates by more, because it leads in a different direction.",
    "of the step",
)
NEAR = ((4, 3), (3, 2))
"""The polynomials that are fitted to frames around a fault, as pairs: the number of frames on each side, and the
degree. The second polynomial, a parabola, can also be used near the ends of a sequence and beside a bounce.
"""
MOST_DROPPED = 8
"""Maximum number of missing frames that can be found between two frames. Over a longer gap, the motion may change
direction.
"""


Fit = tuple[tuple[float, ...], float | None]
"""A pair: the times of the frames of a run (NaN for a frame that is left out), and the time of a sudden turn of the
motion (None for a fit without a turn).
"""


@dataclass(frozen=True)
class Motion:
    """A motion, stored as the products from which sums of squares over a few frames in a row are computed.

    Attributes:
        products: Row k, from 0, contains, for each step, the scalar product of the step and the step k frames later,
            (lags, n - 1); NaN if either of the two steps is unknown or zero. A motion of a single frame has one empty
            row.
        least: Sum of squares that rounding alone may cause, in scene units squared.
    """

    products: Floats
    least: float

    @property
    def frames(self) -> int:
        return int(self.products.shape[1]) + 1


def paths(context: CheckContext) -> list[Motion]:
    """Return the motion of the sampled vertices, and the motion of their shape.

    If vertices can't be followed, points on the ellipsoid of the surface, or corners of the bounding box, are followed
    instead. The motion of these points and the motion of their centre are then returned. The shape of the ellipsoid
    isn't used, because it depends a little on the faces.
    """
    return context.once(_paths)


def _paths(context: CheckContext) -> list[Motion]:
    followed, apart, rounding = places(context), gaps(context), 10.0**-context.series.reference_facts.decimals
    if followed is context.series.samples:
        return motions(followed, apart, rounding)
    with np.errstate(over="ignore", invalid="ignore"):
        return [motion_of(path, apart, rounding) for path in (followed, followed.mean(axis=1, keepdims=True))]


def motions(followed: Floats, apart: Flags, rounding: float) -> list[Motion]:
    """Return the motion of points, and the motion of their shape (their positions relative to their mean).

    The result is empty if there are no points. The arguments are those of `motion_of`. There must be at least one
    frame.
    """
    if not followed.shape[1]:
        return []
    with np.errstate(over="ignore", invalid="ignore"):
        return [motion_of(path, apart, rounding) for path in (followed, shapes(followed))]


def shapes(followed: Floats) -> Floats:
    """Return positions, (n, s, 3), relative to the mean of their frame. Very large numbers give infinity or NaN."""
    with np.errstate(over="ignore", invalid="ignore"):
        return np.asarray(followed - followed.mean(axis=1, keepdims=True))


def motion_of(path: Floats, apart: Flags, rounding: float) -> Motion:
    """Return the motion of points.

    Args:
        path: Positions, (n, s, 3), in scene units; NaN in frames that can't be compared.
        apart: For each frame, whether there is a gap before the frame, (n,), as returned by `gaps`.
        rounding: Smallest difference that the decimal places in the files can express, in scene units.
    """
    steps = np.diff(path.reshape(len(path), -1), axis=0)
    steps[apart[1:] | (steps == 0.0).all(axis=1)] = np.nan  # a held pose doesn't show the time of its frame
    longest = 2 * NEAR[0][0] + 1
    products = [
        np.concatenate([np.einsum("ij,ij->i", steps[: len(steps) - lag], steps[lag:]), np.full(lag, np.nan)])
        for lag in range(max(1, min(longest, len(steps))))
    ]
    return Motion(np.stack(products), path[0].size * rounding**2)


def _misfits(motion: Motion, fits: Sequence[Fit], degree: int) -> Floats:
    """Return the sum of squared residuals of the best-fitting polynomial, for each fit and each run of k frames, (f,
    m).

    The result is in scene units squared, and NaN if a step in the run is unknown. All fits must be for k frames.
    """
    steps = len(fits[0][0]) - 1
    count = motion.frames - steps
    if count < 1:
        return np.empty((len(fits), 0))
    one, other = np.triu_indices(steps)
    products = motion.products[other - one, one + np.arange(count)[:, None]]
    weights = np.stack([_weights(times, degree, turn)[one, other] for times, turn in fits])
    with np.errstate(over="ignore", invalid="ignore"):
        return np.asarray(np.maximum(np.where(one == other, 1.0, 2.0) * weights @ products.T, 0.0))


def misfit(path: Floats, times: Sequence[float], degree: int) -> float:
    """Return the sum of squared residuals between a run of frames and the best-fitting polynomial, in scene units
    squared.

    Args:
        path: Positions, (k, s, 3), in scene units.
        times: The time of each frame, (k,).
        degree: Degree of the polynomial.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        steps = np.diff(path.reshape(len(path), -1), axis=0)
        return float((_weights(tuple(times), degree, None) * (steps @ steps.T)).sum())


@lru_cache(maxsize=512)
def _weights(times: tuple[float, ...], degree: int, turn: float | None) -> Floats:
    """Return the quadratic form, (k - 1, k - 1), that maps the steps of a run to the residual sum of squares of the
    best fit.

    Args:
        times: The time of each frame of the run, (k,); NaN for a frame that is left out.
        degree: Degree of the polynomial.
        turn: Time of a sudden turn of the motion; None for a fit without a turn.
    """
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


def _turning(frames: int) -> list[Fit]:
    """Return fits in which each frame of a run is at its own time.

    The first fit has no sudden turn. Each of the others has a sudden turn at a different time.
    """
    times = tuple(map(float, range(frames)))
    return [(times, turn) for turn in (None, *(half / 2.0 for half in range(2, 2 * frames - 3)))]


def left_by(motion: Motion, edits: Sequence[tuple[float, ...]], degree: int) -> Floats:
    """Return the share of each run's misfit that remains if its frames are put at different times.

    The original misfit is measured at the run's own times, with a sudden turn if a turn fits better.

    Args:
        motion: The motion.
        edits: Each edit consists of the times to try for the frames of a run, one time per frame; NaN for a frame that
            is left out. All edits must be for the same number of frames.
        degree: Degree of the polynomial.

    Returns:
        One share for each edit and each run of frames in a row, (e, m). Infinite if the share is above ROUGHNESS_LEFT,
        if the run is near a polynomial at its own times, or if a step in the run is unknown.
    """
    missed = _misfits(motion, [*((times, None) for times in edits), *_turning(len(edits[0]))], degree)
    edited, plain = missed[: len(edits)], missed[len(edits) :].min(axis=0)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        left = edited / plain
        return np.where((left <= ROUGHNESS_LEFT.value) & (plain > motion.least), left, np.inf)


def dropped(of: Sequence[Motion]) -> dict[int, int]:
    """Find the gaps in the motion: index of a frame -> number of frames that are missing before it."""
    best: dict[int, tuple[float, int]] = {}
    for motion in of:
        aimed = _on_its_way(motion)
        for reach, degree in NEAR:
            counts = range(1, MOST_DROPPED + 1)
            edits = [(*range(reach), *range(reach + missing, 2 * reach + missing)) for missing in counts]
            for missing, left in zip(counts, left_by(motion, edits, degree), strict=True):
                for start in np.flatnonzero(np.isfinite(left)).tolist():
                    if aimed[start + reach]:
                        best[start + reach] = min(best.get(start + reach, (np.inf, 0)), (float(left[start]), missing))
    return {index: missing for index, (_, missing) in sorted(best.items())}


def _on_its_way(motion: Motion) -> Flags:
    """For each frame, whether the step to it follows the direction of the motion before and after the step, (n,)."""
    if motion.frames < 4:
        return np.zeros(motion.frames, bool)
    own, next_one, after_next = motion.products[:3]
    before, step, after = own[:-2], own[1:-1], own[2:]
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        along = next_one[:-2] + next_one[1:-1]  # twice the product of step and pace
        pace = before + after + 2.0 * after_next[:-2]  # four times the squared pace
        missed = 1.0 - along**2 / (pace * step)
        return np.concatenate([[False] * 2, (along > 0.0) & (missed <= DROPPED_AIM.value**2), [False]])


ALONE = (0.0, 1.0, 2.0, np.nan, 4.0, 5.0, 6.0)
"""Times of seven frames in a row; NaN for the middle frame, which is left out."""


def alone(of: Motion) -> list[int]:
    """Return the indices of single frames that are off their path.

    Without such a frame, the surrounding motion is near a cubic. With the frame, the motion is not near a cubic, even
    if a sudden turn is allowed.
    """
    return (np.flatnonzero(np.isfinite(left_by(of, [ALONE], 3)[0])) + 3).tolist()


def off_by(places: Floats) -> Floats:
    """Return the middle frame's offset from the cubic that best fits the three frames before it and the three after it.

    Args:
        places: Positions, (7, s, 3), in scene units; or positions along one axis, (7, 1).

    Returns:
        The offset, (s, 3), in scene units; or the offset along the axis, (1,).
    """
    return np.asarray(places[3] - np.tensordot(_MIDDLE, places[[0, 1, 2, 4, 5, 6]], 1))


_MIDDLE = np.linalg.pinv(np.vander([-3.0, -2.0, -1.0, 1.0, 2.0, 3.0], 4, increasing=True))[0]
"""Weights of the positions in the three frames before and the three frames after a middle frame, (6,). The weighted sum
is the value, in the middle frame, of the cubic that best fits the six positions.
"""


def exchanged(of: Sequence[Motion]) -> set[int]:
    """Return the indices of the frames that are exchanged with the next frame."""
    found: set[int] = set()
    for motion in of:
        for reach, degree in NEAR:
            times = [*range(2 * reach)]
            times[reach - 1 : reach + 1] = [reach, reach - 1]
            (left,) = left_by(motion, [tuple(times)], degree)
            found.update((np.flatnonzero(np.isfinite(left)) + reach - 1).tolist())
    return found


def slower(of: Sequence[Motion]) -> tuple[list[int], list[int]]:
    """Return the ascending indices at which the motion drops to half speed, and those at which it returns to full
    speed.

    A change of speed counts only if it explains the frames nearly as well as a sudden turn does, because a bounce can
    also halve the speed.
    """
    starts: set[int] = set()
    stops: set[int] = set()
    for motion in of:
        for reach, degree in NEAR:
            times = (*(float(at) for at in range(reach)), *(reach + at / 2.0 for at in range(reach + 1)))
            back = tuple(2.0 * reach - at for at in reversed(times))
            slowed, sped, *own = _misfits(motion, [(times, None), (back, None), *_turning(len(times))], degree)
            plain, turned = own[0], np.min(own, axis=0)
            for found, edited in ((starts, slowed), (stops, sped)):
                with np.errstate(invalid="ignore"):
                    fits = (edited <= PACE_LEFT.value * plain) & (edited <= PACE_TURN.value * turned)
                    found.update((np.flatnonzero(fits & (plain > motion.least)) + reach + 1).tolist())
    return sorted(starts), sorted(stops)
