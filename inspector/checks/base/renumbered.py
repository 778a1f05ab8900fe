"""Find frames that have the reference frame's faces, but list the vertices in a different order.

In such a frame, each moved vertex is at the position that the motion in the surrounding frames predicts for another
vertex. If a frame is damaged in another way, its moved vertices aren't at predicted positions.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.checks.base.context import CheckContext
from inspector.checks.base.exploded import exploded_frames, same_faces
from inspector.checks.base.off_path import SPIKE_DIAGONALS, pops_and_spikes, strays
from inspector.checks.base.steps import JUMP_FACTOR, JUMP_WINDOW, jumps_in
from inspector.checks.base.turned import TURN_POINTS, rigid_misses, upset_frames
from inspector.surface.nearest import nearest_alike
from inspector.threshold import Threshold

ORDER_NEAR = Threshold(
    "order-near",
    2.5,
    "A vertex's expected position is predicted from the frames before and after. On each surrounding frame, the "
    "root-mean-square distance of the vertices from their own expected positions is measured; the usual distance is "
    "the largest of these values. A moved vertex counts as near the expected position of another vertex if it is at "
    "most this many usual distances away from the position. The limit is above 2, because limbs move less evenly than "
    "the body.",
    "usual distances",
)
ORDER_EXACT = Threshold(
    "order-exact",
    0.02,
    "A vertex whose distance from an expected position exceeds `order-near` still counts as near the position if the "
    "distance is at most this value. The value is a share of the median distance of the moved vertices from their own "
    "expected positions. The limit is needed because the motion may be less even on the frame itself than on the "
    "surrounding frames. It is below 0.04, because in a part of the surface that is mirrored in place, vertices miss "
    "the expected positions of other vertices by at least that share.",
    "of the distance moved",
)
ORDER_APART = Threshold(
    "order-apart",
    3.0,
    "A vertex counts as moved if its distance from its own expected position is more than this many times the largest "
    "distance that counts as near (`order-near`).",
    "near distances",
)
ORDER_SHARE = Threshold(
    "order-share",
    0.9,
    "The order counts as different only if at least this share of the moved vertices are near the expected position of "
    "another moved vertex. If a part of the surface is displaced onto another part, the share is smaller, because "
    "there are no expected positions of other moved vertices near the leading edge of the displaced part.",
    "of the moved vertices",
)
ORDER_ONCE = Threshold(
    "order-once",
    0.6,
    "The order counts as different only if there are many different expected positions near the moved vertices. The "
    "value is the minimum number of these positions, as a share of the number of moved vertices. If vertices only "
    "change places, the share is 1, because each vertex is near a different position. If the vertices also move, and "
    "each step of the motion is longer than the distance between neighbouring vertices, some vertices have the same "
    "nearest position. The share then falls to about 0.67, so the limit is below 0.67.",
    "of the moved vertices",
)

_QUERIES = 2000
"""Maximum number of moved vertices whose nearest expected positions are determined. If more vertices moved, an evenly
spaced sample of this size is used.
"""
_NEARLY_BEST = 2.0
"""A frame can be predicted from different sets of other frames. The set with the smallest usual error is tried first,
and then the sets whose usual error is at most this many times as large. More than one set is tried, because the first
set may fail. At a bounce, for example, only a set of frames on one side of the bounce predicts the right positions.
"""


@dataclass(frozen=True, slots=True)
class Renumbering:
    """The moved vertices of a frame, nearly all of which are at the expected positions of other vertices.

    Attributes:
        vertices: Number of moved vertices.
        vertex: Index, from 0, of the first moved vertex.
    """

    vertices: int
    vertex: int


def renumbered_frames(context: CheckContext) -> dict[int, Renumbering]:
    """Find frames that have the reference frame's faces, but the vertices in a different order.

    Only frames with conspicuous edges, motion or orientation are examined.

    Returns:
        Index of the frame -> the vertices that moved to the positions of other vertices.

    Raises:
        MeshqcError: A file can't be read any more.
    """
    return context.once(_renumbered_frames)


def _renumbered_frames(context: CheckContext) -> dict[int, Renumbering]:
    series = context.series
    known = [index for index in same_faces(context) if np.isfinite(series.samples[index]).all()]
    if len(known) < 2 or not series.samples.shape[1]:
        return {}
    strides, tears = _strides(series.samples[known]), _tears(context, known)
    suspects = _suspects(context, known, strides, tears)
    sound = np.zeros(len(series.facts), bool)
    sound[sorted(set(known) - suspects)] = True
    good = np.flatnonzero(sound)
    if not len(good):
        return {}
    leaps = np.maximum(strides, _lengths(tears))
    small = leaps <= JUMP_FACTOR.value * np.median(leaps)
    linked = {**dict(zip(known[1:], small.tolist(), strict=True)), known[0]: False}
    found: dict[int, Renumbering | None] = {}
    # The frames next to a sound frame are judged first, because they can be predicted best. Without a leap from one
    # frame to the next, both have the same order, so that only one of them need be read.
    for index in sorted(suspects, key=lambda index: int(np.abs(good - index).min())):
        if linked[index] and index - 1 in found:
            found[index] = found[index - 1]
        elif linked.get(index + 1) and index + 1 in found:
            found[index] = found[index + 1]
        else:
            found[index] = _renumbering(context, sound, index)
    return {index: change for index, change in sorted(found.items()) if change is not None}


@np.errstate(over="ignore", invalid="ignore")
def _strides(followed: Floats) -> Floats:
    """Return the largest movement of a sampled vertex in each step, (k - 1,), in scene units.

    The mean movement of all sampled vertices is subtracted first.
    """
    steps = np.diff(followed, axis=0)
    steps -= steps.mean(axis=1, keepdims=True)
    return np.asarray(np.sqrt(np.einsum("nsi,nsi->ns", steps, steps)).max(axis=1))


def _tears(context: CheckContext, known: list[int]) -> Floats:
    """Return the largest displacement of a vertex relative to its neighbours in each step, (k - 1, 3), in scene units.

    An unknown displacement is 0.
    """
    facts, none = context.series.facts, (0.0, 0.0, 0.0)
    tears = [facts[here].tear if here == before + 1 else None for before, here in pairwise(known)]
    return np.array([none if tear is None else tear.displacement for tear in tears])


@np.errstate(over="ignore", invalid="ignore")
def _lengths(vectors: Floats) -> Floats:
    return np.asarray(np.sqrt(np.einsum("ki,ki->k", vectors, vectors)))


def _suspects(context: CheckContext, known: list[int], strides: Floats, tears: Floats) -> set[int]:
    """Find, among the frames `known`, those whose vertices may be in a different order.

    `strides` and `tears` are the results of `_strides` and `_tears` for these frames.
    """
    series, off = context.series, pops_and_spikes(context)
    exploded = set(exploded_frames(context))
    suspects = {*exploded, *off.spikes, *off.parts, *off.whole, *strays(context), *upset_frames(context)}
    smallest = SPIKE_DIAGONALS.value * float(series.diagonals[series.reference_index or 0])
    followed = series.samples[known]

    def gap(out: int, back: int) -> float:
        return float(_strides(followed[[out, back + 1]])[0])

    def torn(out: int, back: int) -> float:
        return float(_lengths(tears[[out]] + tears[back])[0])

    for jumps in (jumps_in(strides, gap, smallest), jumps_in(_lengths(tears), torn, smallest)):
        suspects.update(known[row] for row in jumps.outliers)
        runs = np.split(np.array(known), jumps.breaks)
        usual = max(runs, key=lambda run: len(set(run.tolist()) - suspects))
        suspects.update(index for run in runs if run is not usual for index in run.tolist())
    return suspects.intersection(known)


def _renumbering(context: CheckContext, sound: Flags, index: int) -> Renumbering | None:
    """Return the moved vertices of a frame; None if a different order of the vertices doesn't explain their positions.

    The positions are predicted only from frames for which `sound`, (n,), is True.

    Raises:
        MeshqcError: A file can't be read any more.
    """
    ways = []
    for nodes in _nodes(sound, index):
        usual = _usual_miss(context, sound, index, nodes)
        if usual is not None:
            ways.append((usual, nodes))
    ways.sort(key=lambda way: way[0])
    rounding = 10.0 ** -context.series.facts[index].decimals
    for usual, nodes in ways:
        if usual > _NEARLY_BEST * ways[0][0] + rounding:
            break
        weights = _weights(context.series.times, nodes, index)
        with np.errstate(over="ignore", invalid="ignore"):
            expected = sum(weight * context.frame(node).positions for weight, node in zip(weights, nodes, strict=True))
            found = changed_places(
                _centred(np.asarray(expected)),
                _centred(context.frame(index).positions),
                ORDER_NEAR.value * usual + rounding,
            )
        if found is not None:
            return found
    return None


def _nodes(sound: Flags, index: int) -> Iterator[tuple[int, ...]]:
    """Yield sets of sound frames, as indices, from which the positions in a frame can be predicted."""
    before, after = np.flatnonzero(sound[:index])[:-4:-1].tolist(), (np.flatnonzero(sound[index + 1 :])[:3]).tolist()
    after = [index + 1 + at for at in after]
    for count in (2, 1):
        if len(before) >= count <= len(after):
            yield (*before[:count], *after[:count])
    for side in (before, after):
        for count in range(1, len(side) + 1):
            yield tuple(side[:count])


def _centred(positions: Floats) -> Floats:
    """Return positions, (n, 3), relative to their mean, which doesn't depend on the order of the vertices."""
    return np.asarray(positions - positions.mean(axis=0))


def _weights(times: Floats, nodes: Sequence[int] | Indices, index: int) -> Floats:
    """Return the weights, (k,), with which the polynomial through the frames `nodes` predicts another frame."""
    own = times[np.asarray(nodes)]
    apart = own[:, None] - own
    np.fill_diagonal(apart, 1.0)
    ahead = np.where(np.eye(len(own), dtype=bool), 1.0, times[index] - own)
    return np.asarray((ahead / apart).prod(axis=1))


def _usual_miss(context: CheckContext, sound: Flags, index: int, nodes: tuple[int, ...]) -> float | None:
    """Return how far the sampled vertices are from their predicted positions in the surrounding frames, in scene units.

    Each surrounding frame is predicted from the frames that have the same offsets from it as `nodes` have from `index`.
    If `sound`, (n,), is False for a surrounding frame, or for a frame from which a surrounding frame is predicted, the
    surrounding frame is left out. Positions are taken relative to the mean of their frame. The result is the largest
    root-mean-square distance in a surrounding frame; None if fewer than two surrounding frames can be compared, or if a
    distance is not finite.
    """
    samples, times, offsets = context.series.samples, context.series.times, np.array(nodes) - index
    low, high = max(0, index - JUMP_WINDOW.value), min(len(sound), index + JUMP_WINDOW.value + 1)
    low, high = max(low, -int(offsets.min())), min(high, len(sound) - int(offsets.max()))
    misses = []
    for at in range(low, high):
        if sound[at] and sound[at + offsets].all():
            with np.errstate(over="ignore", invalid="ignore"):
                expected = np.tensordot(_weights(times, at + offsets, at), samples[at + offsets], 1)
                miss = _centred(samples[at]) - _centred(expected)
                misses.append(float(np.sqrt(np.square(miss).sum(axis=1).mean())))
    return max(misses) if len(misses) > 1 and np.isfinite(misses).all() else None


def changed_places(expected: Floats, here: Floats, near: float) -> Renumbering | None:
    """Return the vertices that moved to each other's expected positions.

    The result is None if fewer than two vertices moved, if too few of these have exchanged positions, or if a rotation
    or a reflection also explains their positions.

    Args:
        expected: The expected positions, (n, 3), in scene units.
        here: The actual positions, (n, 3), in scene units.
        near: Maximum distance that counts as near, in scene units. ORDER_EXACT may increase it.
    """
    away = np.sqrt(np.square(here - expected).sum(axis=1))
    moved = np.flatnonzero(away > ORDER_APART.value * near)
    if len(moved) < 2 or not np.isfinite(away).all():
        return None
    near = max(near, ORDER_EXACT.value * float(np.median(away[moved])))
    moved = np.flatnonzero(away > ORDER_APART.value * near)
    if len(moved) >= TURN_POINTS.value and _is_rigid(expected[moved], here[moved], near):
        return None
    some = moved[np.linspace(0, len(moved) - 1, min(len(moved), _QUERIES)).astype(np.intp)]
    points, queries = expected[moved], here[some]
    alike = np.zeros(len(moved), np.int64)
    taken, far = nearest_alike(points, alike, queries, alike[: len(some)], np.array([near]))
    fits = far <= near
    own, others = (len(np.unique(places, axis=0)) for places in (expected[some], points[taken[fits]]))
    if fits.mean() < ORDER_SHARE.value or others < ORDER_ONCE.value * own:
        return None
    return Renumbering(len(moved), int(moved[0]))


def _is_rigid(before: Floats, after: Floats, near: float) -> bool:
    """Whether a rotation or reflection can bring points, (m, 3), close to other points, (m, 3).

    The root-mean-square distance that remains must be at most `near`.
    """
    size = float(np.square(before - before.mean(axis=0)).sum())
    return float(rigid_misses(before[None], after[None])[1][0]) * size <= near**2 * len(before)
