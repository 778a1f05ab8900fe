"""Find frames whose vertices have a different order although their faces are the usual ones.

In such a frame, the moved vertices are where other vertices are expected: as a set of points, the frame is where the
motion before and after leads; only the numbers of the points differ. In a frame that is damaged in another way, the
vertices are where no vertex is expected.
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
    "How near to the expected position of another vertex a vertex must be, in multiples of the root-mean-square "
    "distance by which vertices usually miss their own expected positions. Limbs move less evenly than the body, so "
    "that some vertices miss by twice the mean.",
    "usual distances",
)
ORDER_EXACT = Threshold(
    "order-exact",
    0.02,
    "Distance that always counts as near, as a share of the distance by which the moved vertices are off. If the "
    "motion is less even on a frame than on the surrounding frames, vertices miss their expected positions by more "
    "than usual. A part of the surface that is reversed in place misses by 0.04 or more.",
    "of the distance moved",
)
ORDER_APART = Threshold(
    "order-apart",
    3.0,
    "How far from its own expected position a vertex must be to count as moved, in multiples of the distance that "
    "counts as near (`order-near`).",
    "near distances",
)
ORDER_SHARE = Threshold(
    "order-share",
    0.9,
    "Smallest share of the moved vertices that must be near the expected position of another moved vertex. In a part "
    "of the surface that is displaced onto another part, at least the vertices at its front are not.",
    "of the moved vertices",
)
ORDER_ONCE = Threshold(
    "order-once",
    0.6,
    "Smallest number of expected positions that moved vertices take, as a share of these vertices. If vertices only "
    "change places, each takes a position of its own. If they move by more than the distance between vertices from "
    "frame to frame, a third of them are nearest to a position that another vertex is nearest to as well.",
    "of the moved vertices",
)

_QUERIES = 2000
"""Maximum number of moved vertices whose nearest expected position is looked for. They are spread evenly."""
_NEARLY_BEST = 2.0
"""Ways to predict a frame that miss by no more than this many times as far as the best way are tried as well: at a
bounce, the frames before and after predict the frame, but not their mean."""


@dataclass(frozen=True, slots=True)
class Renumbering:
    """The vertices of a frame that are where other vertices belong.

    Attributes:
        vertices: The number of vertices that are at least at another vertex's position.
        vertex: Index of the first of them, from 0.
    """

    vertices: int
    vertex: int


def renumbered_frames(context: CheckContext) -> dict[int, Renumbering]:
    """Find frames that have the reference frame's faces, but the vertices in a different order.

    Only suspicious frames are examined: frames with far longer edges, frames on which a part of the surface or all of
    it is off its path, and frames between two sudden leaps of vertices or beside one.

    Returns:
        Index of the frame -> the vertices that are where others belong.

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
    """Measure the farthest movement of a sampled vertex relative to all of them, for each step, (k - 1,), scene units.

    Args:
        followed: Positions of the sampled vertices, (k, s, 3), scene units.
    """
    steps = np.diff(followed, axis=0)
    steps -= steps.mean(axis=1, keepdims=True)
    return np.asarray(np.sqrt(np.einsum("nsi,nsi->ns", steps, steps)).max(axis=1))


def _tears(context: CheckContext, known: list[int]) -> Floats:
    """Return the farthest movement of a vertex relative to its neighbours, for each step, (k - 1, 3), scene units.

    It is 0 where it is not known.
    """
    facts, none = context.series.facts, (0.0, 0.0, 0.0)
    tears = [facts[here].tear if here == before + 1 else None for before, here in pairwise(known)]
    return np.array([none if tear is None else tear.displacement for tear in tears])


@np.errstate(over="ignore", invalid="ignore")
def _lengths(vectors: Floats) -> Floats:
    """Return the lengths of vectors, (k, 3)."""
    return np.asarray(np.sqrt(np.einsum("ki,ki->k", vectors, vectors)))


def _suspects(context: CheckContext, known: list[int], strides: Floats, tears: Floats) -> set[int]:
    """Find frames that may have a different order.

    Args:
        context: The sequence.
        known: Indices of the frames to choose from, ascending, (k,).
        strides: The farthest movement of a sampled vertex, for each step between these frames, (k - 1,), scene units.
        tears: The farthest movement of a vertex relative to its neighbours, for each step, (k - 1, 3), scene units.

    Returns:
        Indices of the frames.
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
    """Find out whether a frame has its vertices in a different order.

    Args:
        context: The sequence.
        sound: The frames by which the frame can be judged, (n,).
        index: Index of the frame.

    Returns:
        The vertices that are where others belong; None if a different order doesn't explain the frame.

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
    """Yield sets of sound frames from which the positions on a frame can be predicted.

    Args:
        sound: The sound frames, (n,).
        index: Index of the frame.
    """
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
    """Return the weights, (k,), of the frames `nodes` in the polynomial through them, at the time of another frame."""
    own = times[np.asarray(nodes)]
    apart = own[:, None] - own
    np.fill_diagonal(apart, 1.0)
    ahead = np.where(np.eye(len(own), dtype=bool), 1.0, times[index] - own)
    return np.asarray((ahead / apart).prod(axis=1))


def _usual_miss(context: CheckContext, sound: Flags, index: int, nodes: tuple[int, ...]) -> float | None:
    """Measure how far the sampled vertices are from their predicted positions on the surrounding frames.

    Each of those frames is predicted in the same way, from the sound frames at the same distances.

    Args:
        context: The sequence.
        sound: The sound frames, (n,).
        index: Index of the frame.
        nodes: The frames from which the frame is predicted.

    Returns:
        The largest root-mean-square distance on a surrounding frame, scene units; None if fewer than two frames can be
        compared.
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
    """Compare the positions of a frame with those that its vertices are expected to have.

    Args:
        expected: The expected positions, (n, 3), scene units.
        here: The positions, (n, 3), scene units.
        near: The distance that counts as near, scene units; ORDER_EXACT may allow more.

    Returns:
        The moved vertices, if each of nearly all is near the expected position of another; None if not, or if a turn
        or a reflection explains their positions as well.
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
    """Whether a turn or a reflection brings all points, (m, 3), near their other positions, (m, 3)."""
    size = float(np.square(before - before.mean(axis=0)).sum())
    return float(rigid_misses(before[None], after[None])[1][0]) * size <= near**2 * len(before)
