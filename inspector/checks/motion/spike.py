"""A few vertices that are far from their proper positions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from inspector.arrays import Floats, SmallIndices
from inspector.checks.base.bumps import BUMP_SHARE, bumps
from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import (
    base_facts,
    count_of,
    in_diagonals,
    part_of,
    these_frames,
    vertex_places,
)
from inspector.checks.base.off_path import (
    POP_DIAGONALS,
    SPIKE_BEYOND,
    SPIKE_DIAGONALS,
    SPIKE_FACTOR,
    SPIKE_FEW,
    SPIKE_RUN_DIAGONALS,
    SPIKE_SHARE,
    Pop,
    few_vertices,
    pops_and_spikes,
)
from inspector.checks.base.steps import JUMP_FACTOR
from inspector.formats.frame import Frame
from inspector.names import amount
from inspector.surface.edges import next_corner
from inspector.threshold import Threshold

SPIKE_FAR = Threshold(
    "spike-far",
    10.0,
    "A few vertices count as strays if their distance from the middle of the object is more than this many times that "
    "of the farthest other vertex. Fins, tails and hairs don't reach this ratio, because they have vertices along "
    "their whole length (common practice, no source).",
)
STRAY_SHARE = Threshold(
    "stray-share",
    0.001,
    "Several vertices can count as strays only if they make up at most this share of all vertices. A larger group "
    "doesn't count as strays, because it may be a small, distant part of the object.",
    "of the vertices",
)
SPIKE_HOME = Threshold(
    "spike-home",
    3.0,
    "If a vertex leaps on a frame, either this frame or its neighbouring frames may be wrong. The neighbouring frames "
    "count as wrong if the vertex's longest edge is more than this many times as long on both of them as on the frame "
    "itself. The length decides, because a vertex in a wrong position makes its edges longer.",
)


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    every = pops_and_spikes(context).spikes
    spikes = {index: every[index] for index in context.unexplained(every)}
    whole = {index: spike for index, spike in spikes.items() if _comes_home(context, index, spike.vertex, set(every))}
    if len(spikes) > len(whole):
        out = {index: spike for index, spike in spikes.items() if index not in whole}
        yield _finding(context, "leap", "", out, set(every))
    if whole:
        when = f" on the frames before and after, not on {these_frames(whole)}"
        yield _finding(context, "home", when, whole, set(every))
    yield from _bumps(context)
    yield from _strays(context)


def _finding(context: CheckContext, kind: str, when: str, spikes: Mapping[int, Pop], every: set[int]) -> Finding:
    diagonal = float(context.series.diagonals[context.series.reference_index or 0])
    index, worst = max(spikes.items(), key=lambda spike: spike[1].distance)
    leaping = _leaping(context, index, every)
    vertices = f"{part_of(leaping, base_facts(context).vertices, 'vertex')} {'is' if leaping == 1 else 'are'}"
    return Finding(
        CHECK.id,
        Severity.WARNING,
        f"{vertices} out of place by up to {amount(worst.distance, 'unit')} "
        f"({in_diagonals(worst.distance / diagonal)}){when}",
        context.numbers(list(spikes)),
        vertex_places(context, {index: spike.vertex for index, spike in spikes.items()}),
        {"kind": kind, "distance": worst.distance, "diagonals": worst.distance / diagonal},
        CHECK.fixes if kind == "leap" else (),
    )


def _comes_home(context: CheckContext, index: int, vertex: int, spikes: set[int]) -> bool:
    """Whether a leaping vertex is in its proper position on this frame, but not on the nearest frames without a spike.

    Such a vertex is near its neighbours on this frame only. A blend of the other frames would put it in the wrong
    position.
    """
    beside = _calm_beside(context, index, spikes)
    away = min((_farthest_neighbour(context.frame(at), vertex) for at in beside), default=0.0)
    return away > SPIKE_HOME.value * _farthest_neighbour(context.frame(index), vertex)


def _farthest_neighbour(frame: Frame, vertex: int) -> float:
    """Return the length of the longest edge at a vertex, in scene units; 0 if no face uses the vertex."""
    corners = frame.corners
    start, end = corners.v, corners.v[next_corner(corners)]
    own = (start == vertex) | (end == vertex)
    with np.errstate(over="ignore", invalid="ignore"):
        sides = frame.positions[end[own]] - frame.positions[start[own]]
        return float(np.linalg.norm(sides, axis=1).max(initial=0.0))


def _calm_beside(context: CheckContext, index: int, spikes: set[int]) -> list[int]:
    """Return the indices of the nearest frames without a spike: one before and one after a frame, if they exist.

    Only frames whose vertices can be followed are considered.
    """
    calm = [at for at in np.flatnonzero(context.series.followed).tolist() if at not in spikes]
    return [*[at for at in calm if at < index][-1:], *[at for at in calm if at > index][:1]]


def _bumps(context: CheckContext) -> Iterator[Finding]:
    """Yield the finding for frames in which a few vertices are off the surrounding surface (see `bumps`)."""
    every = context.once(bumps)
    found = {index: every[index] for index in context.unexplained(every)}
    if not found:
        return
    diagonal = float(context.series.diagonals[context.series.reference_index or 0])
    most = max(bump.distance for bump in found.values())
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"a few vertices are off the surrounding surface by up to {amount(most, 'unit')} "
        f"({in_diagonals(most / diagonal)}), which is far more than on nearby frames",
        context.numbers(sorted(found)),
        vertex_places(context, {index: bump.vertex for index, bump in found.items()}),
        {"kind": "bump", "distance": most, "diagonals": most / diagonal},
        CHECK.fixes,
    )


def _leaping(context: CheckContext, index: int, spikes: set[int]) -> int:
    """Return the number of vertices that leap in a frame with a spike.

    A vertex counts if it leaps at least half as far as the vertex `Pop.vertex`. The leap is measured from the nearest
    frames without a spike. If there are no such frames, or if the count is implausible, the number is estimated from
    `Pop.share`.
    """
    spike, base = pops_and_spikes(context).spikes[index], base_facts(context)
    torn = max(1, round(spike.share * base.vertices))
    beside = _calm_beside(context, index, spikes)
    if not beside:
        return torn
    with np.errstate(over="ignore", invalid="ignore"):
        off = context.frame(index).positions - sum(context.frame(at).positions / len(beside) for at in beside)
        off -= np.median(off, axis=0)
        distances = np.linalg.norm(off, axis=1)
    leaping = int(np.count_nonzero(distances >= distances[spike.vertex] / 2.0))
    return leaping if torn <= leaping <= few_vertices(base.vertices) else torn


def _strays(context: CheckContext) -> Iterator[Finding]:
    """Yield a finding if a few vertices of the reference frame are much farther out than all its other vertices.

    The reference frame is read again only if its bounding box is far larger than that of its sampled vertices.
    """
    series, reference = context.series, context.series.reference_index
    if reference is None or not series.samples.shape[1]:
        return
    with np.errstate(invalid="ignore", over="ignore"):
        inner = np.linalg.norm(np.ptp(series.samples, axis=1), axis=-1)
        suspect = series.diagonals > SPIKE_FAR.value / 2.0 * inner
    if not suspect[reference]:
        return
    far, times = stray_vertices(context.reference_frame.positions)
    if not len(far):
        return
    vertices = f"{count_of(len(far), 'vertex')} {'is' if len(far) == 1 else 'are'}"
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"{vertices} {times:,.0f} times as far from the middle of the object as any other vertex",
        context.numbers(np.flatnonzero(suspect).tolist()),
        vertex_places(context, {reference: int(far[0])}),
        {"kind": "stray", "vertices": len(far), "times": times},
    )


def stray_vertices(positions: Floats) -> tuple[SmallIndices, float]:
    """Find a few vertices that are much farther from the middle (the median along each axis) than all others.

    Args:
        positions: Positions of the vertices, (n, 3), in scene units.

    Returns:
        Indices of the vertices, (k,), the farthest first; and a ratio of distances from the middle: the smallest
        distance of these vertices, divided by the largest distance of any other vertex. No indices and 0 if no vertex
        or too many vertices are far enough away, or if a distance is not finite.
    """
    few = max(1, int(STRAY_SHARE.value * len(positions)))
    away = np.linalg.norm(positions - np.median(positions, axis=0), axis=1)
    if len(away) <= few + 1 or not np.isfinite(away).all():
        return np.zeros(0, np.int32), 0.0
    order = np.argsort(-away, kind="stable")[: few + 1].astype(np.int32)
    for count in range(1, few + 1):
        rest = float(away[order[count]])
        if away[order[count - 1]] > SPIKE_FAR.value * rest > 0.0:
            return order[:count], float(away[order[count - 1]]) / rest
    return np.zeros(0, np.int32), 0.0


CHECK = Check(
    id="spike",
    title="Spike",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="A few vertices are far from their proper positions, on some frames or throughout the sequence.",
        after_import="A spike sticks out of the surface, and motion blur turns it into a streak. The object's bounding "
        "box may be far too large, so the object may be framed, lit and culled wrongly.",
        what_to_do="Look at the listed vertices. If they leap on single frames, use the fix that replaces these frames "
        "with a blend of their neighbours. If the neighbouring frames are wrong, export those frames again. If the "
        "vertices are far off throughout the sequence, delete them or move them back in the scene.",
    ),
    run=run,
    fixes=("fill-frames",),
    scope=CheckScope.SEQUENCE,
    thresholds=(
        POP_DIAGONALS,
        SPIKE_DIAGONALS,
        SPIKE_FACTOR,
        SPIKE_BEYOND,
        JUMP_FACTOR,
        SPIKE_RUN_DIAGONALS,
        SPIKE_SHARE,
        SPIKE_FEW,
        BUMP_SHARE,
        SPIKE_FAR,
        SPIKE_HOME,
        STRAY_SHARE,
    ),
    explained_by=("size-jump", "noisy-frame", "swapped-frames", "vertex-order", "winding", "frozen"),
)
