"""Find frames that are mirrored or turned.

A turned frame is turned by 90 degrees about x. This happens if the export changes between y-up and z-up axes.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.checks.base.context import CheckContext
from inspector.checks.base.smoothness import places
from inspector.checks.base.steps import JUMPS_OF_A_POSE_SET
from inspector.threshold import Threshold

TURN_POINTS = Threshold(
    "turn-points",
    4,
    "Minimum number of sampled vertices for recognising a turn. Three vertices are not enough, because their movement "
    "may agree with a turn by chance.",
    "vertices",
)
TURN_MISS = Threshold(
    "turn-miss",
    0.1,
    "To recognise a turned frame, the check turns the sampled vertices of the previous frame by 90 degrees. The "
    "examined frame can count as turned if the root-mean-square distance between its vertices and the turned vertices "
    "is at most this share of the spread of the turned vertices. The spread is their root-mean-square distance from "
    "their mean position. Some distance is allowed, because the object also moves from one frame to the next.",
    "of the spread",
)
TURN_BETTER = Threshold(
    "turn-better",
    2.0,
    "A frame can count as turned only if the distance that remains without a turn is more than this many times the "
    "distance that remains after a quarter turn. If the object is nearly symmetric under rotation about an axis "
    "parallel to x, the two distances are about equal, so no frame counts as turned.",
)

MIRROR_MISS = Threshold(
    "mirror-miss",
    0.2,
    "To recognise a mirrored frame, the sampled vertices on the previous frame (or on the mean of the two neighbouring "
    "frames) are reflected. The examined frame can count as mirrored if the root-mean-square distance between its "
    "vertices and the reflected vertices is at most this share of the spread of the reflected vertices. The spread is "
    "their root-mean-square distance from their mean position. Some distance is allowed, because the object also moves "
    "from one frame to the next.",
    "of the spread",
)
MIRROR_BETTER = Threshold(
    "mirror-better",
    2.0,
    "A frame can count as mirrored only if the distance that remains after the best rotation (see `mirror-flat`) is "
    "more than this many times the distance that remains after the best reflection. If the object is flat, the two "
    "distances are equal, so no frame counts as mirrored.",
)

MIRROR_FLAT = Threshold(
    "mirror-flat",
    0.02,
    "To recognise a mirrored frame, the sampled vertices on the previous frame (or on the mean of the two neighbouring "
    "frames) are also rotated so that they fit the examined frame best. The frame can count as mirrored only if the "
    "root-mean-square distance between its vertices and the rotated vertices is more than this share of the spread of "
    "the rotated vertices. The spread is their root-mean-square distance from their mean position. A nearly flat "
    "object doesn't count as mirrored, because it is nearly its own reflection.",
    "of the spread",
)
MIRROR_FACTOR = Threshold(
    "mirror-factor",
    3.0,
    "The usual distance is the median distance that remains after the best rotation from one frame to the next. A "
    "frame counts as mirrored only if the distance that remains after the best rotation exceeds this many usual "
    "distances, but the distance that remains after the best reflection does not. The first condition is needed "
    "because a wing that swings from above the body to below it between two frames looks mirrored at every beat. The "
    "second condition is needed because the wing's tip may bend; the movement is then not a reflection.",
    "usual distances",
)

MIRROR_NEAR = 3
"""Number of nearest unmirrored frames with which a frame is compared. The frame counts as mirrored only if a reflection
explains its difference from each of these frames.
"""

FORTH, BACK = 1, -1
"""Quarter turns about x. FORTH turns y to z, as in a conversion from y-up to z-up axes. BACK turns z to y."""
_QUARTER_TURNS = tuple(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -way], [0.0, way, 0.0]]) for way in (FORTH, BACK))


def turned_frames(context: CheckContext) -> tuple[int, ...]:
    """Return the indices, ascending, of frames that are turned compared with most other frames.

    The result is empty if quarter turns between frames are so frequent that they are part of the motion.
    """
    return context.once(_turned_frames)


def _turned_frames(context: CheckContext) -> tuple[int, ...]:
    series = context.series
    followed = places(context)
    if followed is not series.samples:
        return () if followed is series.boxes else turned_surfaces(followed)
    frames = [int(index) for index in np.flatnonzero(np.isfinite(series.samples).all(axis=(1, 2)))]
    if not frames or series.samples.shape[1] < TURN_POINTS.value:
        return ()
    odd = _odd_frames(series.samples, frames)
    return min(odd, _odd_frames(series.samples, frames[::-1]), key=len) if odd else ()


def _odd_frames(samples: Floats, frames: list[int]) -> tuple[int, ...]:
    """Return the indices, ascending, of frames that are turned compared with most other frames.

    A turn that undoes an earlier turn may have a residual above TURN_MISS, because the object may move far at the same
    time. The result is empty if quarter turns are so frequent that they are part of the motion.
    """
    previous = [frames[0], *frames[:-1]]
    found = quarter_turns(samples[previous], samples[frames], TURN_MISS.value)
    state, states, turns = 0, {}, 0
    for before, index, plain in zip(previous, frames, found.tolist(), strict=True):
        turn = plain
        if state and not turn:
            back = quarter_turn(samples[before], samples[index], np.inf)
            turn = back if state * back < 0 else 0
        turns += turn != 0
        state += turn
        states[index] = state
    if turns > max(2.0, JUMPS_OF_A_POSE_SET.value * len(frames)):
        return ()
    usual = Counter(states.values()).most_common(1)[0][0]
    return tuple(sorted(index for index in frames if states[index] != usual))


def turned_surfaces(followed: Floats) -> tuple[int, ...]:
    """Return the indices, ascending, of single frames whose surface is turned about the origin, as by a change of axes.

    The turn, and not a step of the motion, must explain the surface's position and extent. The result is empty if so
    many frames are found that the turns are part of the motion.

    Args:
        followed: Points of the ellipsoid of each frame, (n, 6, 3).
    """
    centres = followed.mean(axis=1)
    roots = (followed[:, :3] - followed[:, 3:]) / 2.0
    found = []
    for index in range(1, len(followed) - 1):
        (here, expected), (root, own) = (
            (values[index], (values[index - 1] + values[index + 1]) / 2.0) for values in (centres, roots)
        )
        size = float(np.square(own).sum())
        misses = [
            float(np.square(here - turn @ expected).sum() + np.square(root - turn @ own @ turn.T).sum())
            for turn in (np.eye(3), *_QUARTER_TURNS)
        ]
        most = TURN_MISS.value**2 * size
        if min(misses[1:]) <= most < misses[0] and TURN_BETTER.value**2 * min(misses[1:]) < misses[0]:
            found.append(index)
    return tuple(found) if len(found) <= max(2.0, JUMPS_OF_A_POSE_SET.value * len(followed)) else ()


def upset_frames(context: CheckContext) -> set[int]:
    """Return the indices of frames that are turned or mirrored as a whole, so that their parts can't be judged."""
    return {*turned_frames(context), *reflected_frames(context)}


def reflected_frames(context: CheckContext) -> tuple[int, ...]:
    """Return the indices, ascending, of frames that are mirrored compared with most other frames.

    The mirror plane can have any direction.
    """
    return context.once(_reflected_frames)


def _reflected_frames(context: CheckContext) -> tuple[int, ...]:
    series = context.series
    frames = np.flatnonzero(np.isfinite(series.samples).all(axis=(1, 2)))
    if len(frames) < 3 or series.samples.shape[1] < TURN_POINTS.value:
        return ()
    followed = series.samples[frames]
    reflected = reflections(followed)
    most = max(2.0, JUMPS_OF_A_POSE_SET.value * len(frames))
    if reflected.sum() > most:
        return ()
    state = np.concatenate([[0], np.cumsum(reflected) % 2])
    usual = int(2 * state.sum() > len(state))
    odd = np.flatnonzero(state != usual)
    if len(odd) and not _came_by_itself(followed, int(odd[0]), np.flatnonzero(state == usual)):
        return tuple(frames[odd].tolist())
    single = np.flatnonzero(_single_reflections(followed)) + 1
    if not len(single):
        return ()
    others = followed[np.delete(np.arange(len(frames)), single)]
    step = _usual_step(others)
    single = single[[not _is_posed(_misses_to(others, followed[index])[0], step) for index in single.tolist()]]
    return tuple(frames[single].tolist()) if len(single) <= most else ()


def _came_by_itself(followed: Floats, odd: int, usual: Indices) -> bool:
    """Whether the motion itself leads to the pose, (s, 3), of a frame that looks mirrored.

    Either an unmirrored frame shows the same pose, possibly rotated, or a rotation of one of the nearest unmirrored
    frames comes about as close to the pose as a reflection does.
    """
    by_rotation, by_either = _misses_to(followed[usual], followed[odd])
    nearest = np.argsort(np.abs(usual - odd), kind="stable")[:MIRROR_NEAR]
    reflected = by_rotation[nearest] > MIRROR_BETTER.value**2 * by_either[nearest]
    return _is_posed(by_rotation, _usual_step(followed[usual])) or not reflected.all()


def _is_posed(by_rotation: Floats, step: float) -> bool:
    """Whether one of the m unmirrored frames shows the pose of a given frame, possibly rotated.

    `by_rotation` contains the squared residuals of the best rotations to that pose, (m,). `step` is the usual squared
    residual of the best rotation from one unmirrored frame to the next.
    """
    return bool(by_rotation.min() <= MIRROR_BETTER.value**2 * step)


def _usual_step(usual: Floats) -> float:
    """Return the usual squared residual of the best rotation from one unmirrored frame, (s, 3), to the next."""
    before, after = usual[:-1], usual[1:]
    return _usual_miss(rigid_misses(before, after)[0], before, after)


def _misses_to(usual: Floats, points: Floats) -> tuple[Floats, Floats]:
    """Return the results of `rigid_misses` for steps from each unmirrored frame to one other frame.

    Args:
        usual: Points of the unmirrored frames, (m, s, 3).
        points: Points of the other frame, (s, 3).
    """
    return rigid_misses(usual, np.broadcast_to(points, usual.shape))


def reflections(places: Floats) -> Flags:
    """For each frame after the first, whether a reflection, not a rotation, leads to it from the previous frame.

    The result has the shape (n - 1,).
    """
    return _by_reflection(places[:-1], places[1:])


def _single_reflections(places: Floats) -> Flags:
    """For each frame with two neighbours, whether a reflection, not a rotation, leads from their mean to the frame.

    The result has the shape (n - 2,).
    """
    return _by_reflection(places[:-2] / 2.0 + places[2:] / 2.0, places[1:-1])  # the sum of two halves can't overflow


def _by_reflection(before: Floats, after: Floats) -> Flags:
    """For each step, whether a reflection fits but even the best rotation has an unusually large residual, (m,)."""
    by_rotation, by_either = rigid_misses(before, after)
    unusual = MIRROR_FACTOR.value**2 * _usual_miss(by_rotation, before, after)
    fits = by_either <= min(MIRROR_MISS.value**2, unusual)
    better = by_rotation > MIRROR_BETTER.value**2 * by_either
    better &= by_rotation > max(MIRROR_FLAT.value**2, unusual)
    return np.asarray(fits & better)


def _usual_miss(by_rotation: Floats, before: Floats, after: Floats) -> float:
    """Return the median squared residual of the best rotation, over the steps with motion; 0 if there are none."""
    moved = (before != after).any(axis=(1, 2))
    return float(np.median(by_rotation[moved])) if moved.any() else 0.0


def rigid_misses(before: Floats, after: Floats) -> tuple[Floats, Floats]:
    """Measure how well rotations and reflections map points, (m, s, 3), onto other points, (m, s, 3).

    The least-squares residuals follow from the singular values of the covariance (Kabsch 1976; Umeyama 1991,
    "Least-squares estimation of transformation parameters").

    Returns:
        The sum of squared residuals of the best rotation, (m,), and of the best rotation or reflection, (m,). Both are
        divided by the sum of squared distances of the points `before` from their mean. They are infinite if that sum is
        0, or if a number is not finite.
    """
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        one, other = (places - places.mean(axis=1, keepdims=True) for places in (before, after))
        size, covariance = np.square(one).sum(axis=(1, 2)), np.einsum("nsi,nsj->nij", one, other)
        whole = np.isfinite(covariance).all(axis=(1, 2)) & (size > 0.0)
        covariance[~whole] = np.eye(3)
        values = np.linalg.svd(covariance, compute_uv=False)
        least = np.maximum(size + np.square(other).sum(axis=(1, 2)) - 2.0 * values.sum(axis=1), 0.0)
        by_rotation = least + 4.0 * values[:, 2] * (np.linalg.det(covariance) < 0.0)
        return np.where(whole, by_rotation / size, np.inf), np.where(whole, least / size, np.inf)


def quarter_turn(before: Floats, after: Floats, most: float) -> int:
    """Return the result of `quarter_turns` for the points of one frame, (s, 3), and of one later frame, (s, 3)."""
    return int(quarter_turns(before[None], after[None], most)[0])


def quarter_turns(before: Floats, after: Floats, most: float) -> Indices:
    """Find quarter turns, about an axis parallel to x, that bring points to their positions in later frames.

    Args:
        before: Points, (m, s, 3).
        after: The same points in later frames, (m, s, 3).
        most: Maximum root-mean-square residual, as a fraction of the points' root-mean-square distance from their mean.

    Returns:
        FORTH, BACK, or 0 if neither turn brings the points to their later positions, (m,).
    """
    with np.errstate(over="ignore", invalid="ignore"):
        here, there = (points - points.mean(axis=1, keepdims=True) for points in (before, after))
        x, y, z = np.moveaxis(here, -1, 0)
        turned = (here, np.stack([x, -z, y], axis=-1), np.stack([x, z, -y], axis=-1))
        size = _sums(np.square(here))
        miss, forth, back = (_sums(np.square(there - points)) for points in turned)
        best = np.where(back < forth, back, forth)
        fits = (size > 0.0) & (best <= most**2 * size) & (best * TURN_BETTER.value**2 < miss)
    return np.asarray(np.where(fits, np.where(back < forth, BACK, FORTH), 0))


def _sums(values: Floats) -> Floats:
    return np.asarray(values.reshape(len(values), -1).sum(axis=1))
