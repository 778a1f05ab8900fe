"""Find pops and spikes: frames in which a part of the surface is off the path that it follows before and after.

Normally, a vertex is near the mean of its positions in the two neighbouring frames. A vertex displaced by a vector w in
a single frame is off this mean by w in that frame, and by -w/2 in each neighbouring frame. No correct motion does this.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from inspector.arrays import Flags, Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.smoothness import gaps, places
from inspector.checks.base.steps import JUMP_FACTOR, JUMP_WINDOW, JUMPS_OF_A_POSE_SET, jumps_in
from inspector.checks.base.time_edits import alone, motion_of, off_by, paths
from inspector.checks.base.turned import upset_frames
from inspector.sequence.measure.motion_facts import sampled
from inspector.sequence.series import Series
from inspector.threshold import Threshold

POP_DIAGONALS = Threshold(
    "pop-diagonals",
    0.02,
    "A vertex can count as popping only if it is farther than this from its path. The limit is twice a distance that "
    "is hardly visible in motion (common practice, no source).",
    "diagonals of the reference frame",
)
POP_OF_SPEED = Threshold(
    "pop-of-speed",
    1.5,
    "A vertex can count as popping only if its distance from its path is more than this many median steps. A step is "
    "the vertex's movement from one frame to the next; the median is taken over the surrounding frames. Smaller "
    "distances don't count, because motion blur hides them. A frame that repeats its neighbour is reported as frozen, "
    "not as a pop, because its vertices are off their paths by only one step.",
    "median steps",
)
POP_SPREADS = Threshold(
    "pop-spreads",
    6.0,
    "A vertex can count as popping only if its distance from its path is more than this many spreads. The limit is six "
    "spreads, because noise alone doesn't reach it. A spread is 1.4826 times the vertex's median distance from its "
    "path on the surrounding frames. For normally distributed noise, this factor turns a median absolute deviation "
    'into a standard deviation (Rousseeuw and Croux 1993, "Alternatives to the Median Absolute Deviation").',
    "spreads",
)
POP_SHAPE = Threshold(
    "pop-shape",
    0.25,
    "On both frames beside a pop, the vertex seems to be off its path by half as much, in the opposite direction. A "
    "vertex counts as popping only if it deviates from this pattern by at most this share of the pop. Correct motion "
    "deviates more: at a bounce or a start, the vertex seems to be off its path on only one frame; in a back-and-forth "
    "motion, it seems to be off by the same distance on all frames.",
    "of the pop",
)
WHOLE_SHARE = Threshold(
    "whole-share",
    0.1,
    "The object counts as jumping as a whole if moving and scaling the whole object can reduce the sum of the squared "
    "distances of its vertices from their paths to at most this share. Otherwise, only a part of the object counts as "
    "jumping.",
)
SPIKE_SHARE = Threshold(
    "spike-share",
    0.005,
    "Vertices that leap together count as a spike if they are at most this share of all vertices. If more vertices "
    "leap together, they count as a part of the surface that is off its path.",
    "of the vertices",
)
SPIKE_DIAGONALS = Threshold(
    "spike-diagonals",
    0.01,
    "A vertex counts as a spike only if it moves away from its neighbours, and back, by more than this distance. This "
    "limit corresponds to 10 to 20 pixels if the object fills a picture 1,000 to 2,000 pixels wide.",
    "diagonals of the reference frame",
)
SPIKE_FACTOR = Threshold(
    "spike-factor",
    2.0,
    "A vertex can count as a spike if it moves away from its neighbours by more than a certain distance. The distance "
    "is this many times the largest movement of any vertex away from its neighbours on the surrounding frames. Correct "
    "motion doesn't reach the limit, because a turn or a bend moves neighbouring vertices together (common practice, "
    "no source).",
)
SPIKE_BEYOND = Threshold(
    "spike-beyond",
    1.3,
    "If a vertex leaps away from its neighbours and leaps straight back, a factor below `spike-factor` is enough: each "
    "of the two leaps must be longer than this many times the largest movement of any vertex away from its neighbours "
    "on the surrounding frames, and also longer than `jump-factor` times the median of these movements. Only a fault "
    "exceeds both limits (common practice, no source).",
)
SPIKE_RUN_DIAGONALS = Threshold(
    "spike-run-diagonals",
    0.1,
    "If a few vertices leap away from their neighbours and stay there for two or more frames, they count as a spike "
    "only if the leap is longer than this distance. Shorter leaps don't count, because even in correct motion, a part "
    "may move a little, wait, and move back (common practice, no source).",
    "diagonals of the reference frame",
)
SPIKE_FEW = Threshold(
    "spike-few",
    3,
    "Up to this many vertices that leap together count as a spike, even if they exceed `spike-share`. Small meshes "
    "need this limit, because in a mesh of fewer than 200 vertices, `spike-share` is less than one vertex.",
    "vertices",
)


SURFACE_OFF = Threshold(
    "surface-off",
    3e-3,
    "A single frame counts as wrong only if the root-mean-square distance of the whole surface from its path is larger "
    "than this limit. The limit corresponds to 6 to 12 pixels if the object fills a picture 2,000 to 4,000 pixels "
    "wide.",
    "diagonals of the reference frame",
)


@dataclass(frozen=True, slots=True)
class Pop:
    """The part of the surface that is off its path in a frame.

    Attributes:
        vertex: Index, from 0, of the vertex that is farthest off its path.
        distance: Distance of this vertex from its path, in scene units.
        share: Approximate share of vertices that are off their paths, 0 to 1.
    """

    vertex: int
    distance: float
    share: float


@dataclass(frozen=True, slots=True)
class OffPath:
    """Frames in which a part of the surface, or all of it, is off its path.

    Each attribute maps the index of a frame to the part that is off its path.

    Attributes:
        spikes: Frames in which a few vertices leap.
        parts: Frames in which more than a few vertices leap.
        whole: Frames in which the whole object is moved or scaled.
    """

    spikes: Mapping[int, Pop] = field(default_factory=dict)
    parts: Mapping[int, Pop] = field(default_factory=dict)
    whole: Mapping[int, Pop] = field(default_factory=dict)


def off_path(context: CheckContext) -> list[int]:
    """Return the indices of frames that are turned or mirrored, or in which a part of the surface is off its path."""
    found = pops_and_spikes(context)
    return sorted({*found.spikes, *found.parts, *upset_frames(context)})


def pops_and_spikes(context: CheckContext) -> OffPath:
    """Find the frames in which a part of the surface, or all of it, is off its path."""
    return context.once(_pops_and_spikes)


def slips(context: CheckContext) -> dict[int, float]:
    """Find frames in which the whole object is off its path.

    A frame can be found even if the motion before and after it is smooth along only one axis. If most steps between
    frames change the object's shape, a frame is also found if it shows a neighbouring frame's pose, shifted as a whole.

    Returns:
        Index of the frame -> distance from the path, or length of the shift, in scene units. Empty if so many frames
        are found that the sequence counts as a set of poses.
    """
    return context.once(_slips)


def _slips(context: CheckContext) -> dict[int, float]:
    series = context.series
    followed = places(context)
    if series.reference_index is None or not followed.shape[1]:
        return {}
    rounding, least = 10.0**-series.reference_facts.decimals, POP_DIAGONALS.value * _diagonal(series)
    found: dict[int, float] = {}
    with np.errstate(over="ignore", invalid="ignore"):
        centres = followed.mean(axis=1, keepdims=True)
        for axes in ([0, 1, 2], [0], [1], [2]):
            for index in alone(motion_of(centres[..., axes], gaps(context), rounding)):
                off = off_by(followed[index - 3 : index + 4])
                distance, rest = np.linalg.norm(off.mean(axis=0)[axes]), np.square(off - off.mean(axis=0)).sum()
                moved = rest <= WHOLE_SHARE.value * np.square(off).sum()
                usual = _usual_along(centres[:, 0, axes], index) if len(axes) == 1 else 0.0
                if distance > max(least, usual) and moved and index not in upset_frames(context):
                    found[index] = max(found.get(index, 0.0), float(distance))
        found |= _shifted(followed, gaps(context), rounding, least)
    return found if len(found) <= max(2.0, JUMPS_OF_A_POSE_SET.value * len(followed)) else {}


def _usual_along(path: Floats, index: int) -> float:
    """Return the distance from the path that a frame must exceed to be unusual, in scene units; infinite if unknown.

    The result is JUMP_FACTOR times the largest distance of a surrounding frame from its path. The three nearest frames
    on each side are left out, because their distances are measured from curves that depend on the judged frame.

    Args:
        path: Positions along one axis, (n, 1), in scene units.
        index: Index of the judged frame.
    """
    near = 3  # number of frames on each side that `off_by` compares
    low, high = index - JUMP_WINDOW.value - near, index + JUMP_WINDOW.value + near + 1
    rows = [at for at in range(max(near, low), min(len(path) - near, high)) if abs(at - index) > near]
    offs = [abs(float(off_by(path[at - near : at + near + 1])[0])) for at in rows]
    known = [off for off in offs if np.isfinite(off)]
    return JUMP_FACTOR.value * max(known) if known else np.inf


def _shifted(followed: Floats, apart: Flags, rounding: float, least: float) -> dict[int, float]:
    """Find single frames that show a neighbour's pose, shifted as a whole by more than `least`, in scene units.

    Returns:
        Index of the frame -> length of the shift, in scene units. Empty unless most other steps between frames change
        the shape.
    """
    steps = np.diff(followed, axis=0)
    shifts = steps.mean(axis=1)
    alike = np.abs(steps - shifts[:, None]).max(axis=(1, 2)) <= 2.0 * rounding
    away = np.linalg.norm(shifts, axis=1)
    jumped = np.flatnonzero(alike & (away > least) & ~apart[1:])
    if len(jumped) > JUMPS_OF_A_POSE_SET.value * np.count_nonzero(~alike & (away > 0.0)):
        return {}
    centres = followed.mean(axis=1)
    found = {}
    for step in jumped[(jumped > 0) & (jumped < len(steps) - 1)].tolist():
        middle = (centres[step - 1] + centres[step + 2]) / 2.0
        one, other = np.linalg.norm(centres[step : step + 2] - middle, axis=1)
        if np.isfinite(one + other):
            found[step + int(other > one)] = float(away[step])
    return found


def strays(context: CheckContext) -> dict[int, float]:
    """Find frames whose surface is off its path, even when the whole object is moved and scaled to fit the path.

    The motion before and after such a frame must be smooth.

    Returns:
        Index of the frame -> root-mean-square distance that remains, in scene units. Empty if vertices can't be
        followed, or if so many frames are found that the sequence counts as a set of poses.
    """
    return context.once(_strays)


def _strays(context: CheckContext) -> dict[int, float]:
    series = context.series
    followed = places(context)
    if followed is not series.samples or not followed.shape[1]:
        return {}
    least = SURFACE_OFF.value * _diagonal(series)
    found = {}
    with np.errstate(over="ignore", invalid="ignore"):
        for index in alone(paths(context)[0]):
            off = _beyond_scaling(off_by(followed[index - 3 : index + 4]), followed[index])
            distance = float(np.sqrt(np.square(off).sum(axis=-1).mean()))
            if distance > least and index not in upset_frames(context):
                found[index] = distance
    return found if len(found) <= max(2.0, JUMPS_OF_A_POSE_SET.value * len(followed)) else {}


def _beyond_scaling(off: Floats, here: Floats) -> Floats:
    """Return the part of the offsets that can't be explained by moving and scaling the object, (s, 3).

    Args:
        off: Offsets of the points from their paths, (s, 3).
        here: Positions of the points, (s, 3).
    """
    off, here = off - off.mean(axis=0), here - here.mean(axis=0)
    return off - here * (float((off * here).sum()) / max(float(np.square(here).sum()), np.finfo(float).tiny))


def _diagonal(series: Series) -> float:
    return float(series.diagonals[series.reference_index or 0])


def _pops_and_spikes(context: CheckContext) -> OffPath:
    series = context.series
    if series.reference_index is None or not series.diagonals[series.reference_index] > 0:
        return OffPath()
    diagonal = float(series.diagonals[series.reference_index])
    smallest = POP_DIAGONALS.value * diagonal
    with np.errstate(over="ignore", invalid="ignore"):
        off = _off(series)
        popped = dict(_popped(series, off, smallest))
        torn = dict(_torn(series, diagonal))
    # A part that is off its path is torn at its rim. If only a few vertices are off, the sample may contain just one of
    # them, or only their neighbours. If sampled vertices are at least half as far off as the farthest vertices are, the
    # sample shows better how many are off.
    for index, tear in torn.items():
        known = popped.get(index)
        if known is None or known.share * off.shape[1] < 2.0:
            popped[index] = tear
        elif tear.distance > known.distance:
            seen = known.share if known.distance >= tear.distance / 2.0 else 0.0
            popped[index] = replace(tear, share=max(tear.share, seen))
    popped = {index: pop for index, pop in popped.items() if series.followed[index]}
    popped = {index: pop for index, pop in popped.items() if index not in upset_frames(context)}
    spikes = {index: pop for index, pop in popped.items() if _few(series, pop)}
    rest = {index: pop for index, pop in popped.items() if index not in spikes}
    if len(rest) > max(2.0, JUMPS_OF_A_POSE_SET.value * len(series.facts)):
        return OffPath(spikes)
    whole = {index: pop for index, pop in rest.items() if _as_a_whole(series, off, index)}
    return OffPath(spikes, {index: pop for index, pop in rest.items() if index not in whole}, whole)


def few_vertices(vertices: int) -> float:
    """Return the maximum number of vertices of a spike, in a mesh with this many vertices."""
    return max(SPIKE_FEW.value, SPIKE_SHARE.value * vertices)


def _few(series: Series, pop: Pop) -> bool:
    return pop.share * series.reference_facts.vertices <= few_vertices(series.reference_facts.vertices)


def _off(series: Series) -> Floats:
    """Return the offsets of the sampled vertices from the mean of the two neighbouring frames, (n, s, 3), in scene
    units.

    Offsets are NaN unless the neighbouring frames are exactly one step before and one step after.
    """
    places = series.samples
    off = np.full(places.shape, np.nan)
    off[1:-1] = places[1:-1] - (places[:-2] + places[2:]) / 2.0
    apart = ~series.follows[1:]
    off[1:][apart] = np.nan
    off[:-1][apart] = np.nan
    return off


def _popped(series: Series, off: Floats, smallest: float) -> Iterator[tuple[int, Pop]]:
    """Yield the index of each frame in which sampled vertices pop, and the pop.

    An offset, as returned by `_off`, must exceed `smallest`, in scene units.
    """
    if len(off) < 4 or not off.shape[1]:
        return
    ways = np.sqrt(np.einsum("nsi,nsi->ns", off, off))
    steps = np.sqrt(np.einsum("nsi,nsi->ns", *2 * (np.diff(series.samples, axis=0),)))
    likely = (ways > smallest) & np.isfinite(ways) & shaped(off, ways)
    for index in np.flatnonzero(likely.any(axis=1)).tolist():
        vertices = np.flatnonzero(likely[index])
        vertices = vertices[stands_out(ways[:, vertices], steps[:, vertices], index)]
        if len(vertices):
            farthest = int(vertices[ways[index, vertices].argmax()])
            way = float(ways[index, farthest])
            yield index, Pop(int(sampled(series.reference_facts.vertices)[farthest]), way, len(vertices) / off.shape[1])


def shaped(off: Floats, ways: Floats) -> Flags:
    """Whether each vertex has the pattern of a pop in each frame, (n, s).

    In this pattern, the offset in each neighbouring frame is half as long as in the frame itself, and has the opposite
    direction. If the offset in one neighbouring frame is unknown, only the other neighbouring frame is compared. If the
    offsets in both are unknown, the result is False.

    Args:
        off: Offsets from the mean of the two neighbouring frames, (n, s, 3); NaN if unknown.
        ways: Lengths of these offsets, (n, s).
    """
    fits = np.ones(ways.shape, bool)
    known = np.zeros(ways.shape, bool)
    for here, beside in ((slice(1, None), slice(None, -1)), (slice(None, -1), slice(1, None))):
        left = off[beside] + off[here] / 2.0
        there = np.isfinite(left).all(axis=-1)
        fits[here] &= ~there | (np.sqrt(np.einsum("nsi,nsi->ns", left, left)) <= POP_SHAPE.value * ways[here])
        known[here] |= there
    return fits & known


def stands_out(ways: Floats, steps: Floats, index: int) -> Flags:
    """Whether each vertex is much farther off its path in one frame than in the surrounding frames, (s,).

    The result is False for all vertices if fewer than two surrounding frames can be compared.

    Args:
        ways: Distance of each vertex from its path, (n, s).
        steps: Distance that each vertex moves from each frame to the next, (n - 1, s).
        index: Index of the frame.
    """
    low = max(0, index - JUMP_WINDOW.value)
    around = ways[low : index + JUMP_WINDOW.value + 1].copy()
    around[max(0, index - 1 - low) : index + 2 - low] = np.nan
    around = around[np.isfinite(around).all(axis=1)]
    paces = steps[low : index + JUMP_WINDOW.value]
    paces = paces[np.isfinite(paces).all(axis=1)]
    if len(around) < 2:
        return np.zeros(ways.shape[1], bool)
    usual = np.maximum(POP_SPREADS.value * spread(around), POP_OF_SPEED.value * np.median(paces, axis=0))
    return np.asarray(ways[index] > usual)


def spread(ways: Floats) -> Floats:
    """Return the spread of each vertex's distances from its path, (s,), as defined at POP_SPREADS.

    Args:
        ways: The distances, (n, s).
    """
    return np.asarray(1.4826 * np.median(np.abs(ways), axis=0))


def _torn(series: Series, diagonal: float) -> Iterator[tuple[int, Pop]]:
    """Yield the frames in which a vertex leaps away from its neighbours and back, with the leap.

    If vertices stay away for two or more frames, they must be few and must leap far, because in correct motion, a part
    may also move, wait, and move back.
    """
    rows = [
        index
        for index, facts in enumerate(series.facts)
        if index == 0 or (series.usable[index] and facts.step is not None)
    ]
    tears = [series.facts[index].tear for index in rows[1:]]
    ways = np.array([np.zeros(3) if tear is None else tear.displacement for tear in tears]).reshape(-1, 3)
    vertices = [-1 if tear is None else tear.vertex for tear in tears]

    def gap(out: int, back: int) -> float:
        return float(np.linalg.norm(ways[out] + ways[back])) if vertices[out] == vertices[back] else np.inf

    paces = np.linalg.norm(ways, axis=1) / np.maximum(np.diff(series.times[rows]), 1.0)
    smallest = SPIKE_DIAGONALS.value * diagonal
    for out in _out_and_back(paces, gap, smallest):
        tear = tears[out]
        if tear is not None:
            yield rows[out + 1], Pop(tear.vertex, float(paces[out]), tear.alike / series.reference_facts.vertices)
    jumps = jumps_in(paces, gap, smallest, SPIKE_FACTOR)
    runs = np.split(np.array(jumps.outliers, int), np.flatnonzero(np.diff(jumps.outliers) > 1) + 1)
    runs += [np.array([0])] if 1 in jumps.breaks and _at_its_pace(series, rows[:4]) else []
    runs += [np.array([len(tears)])] if len(tears) in jumps.breaks and _at_its_pace(series, rows[:-5:-1]) else []
    for run in runs:
        tear = tears[max(0, int(run[0]) - 1)] if len(run) else None
        if tear is None:
            continue
        pop = Pop(tear.vertex, float(np.linalg.norm(tear.displacement)), tear.alike / series.reference_facts.vertices)
        back = len(run) == 1 and rows[int(run[0])] not in (rows[0], rows[-1])
        if back or (_few(series, pop) and (len(run) == 1 or pop.distance > SPIKE_RUN_DIAGONALS.value * diagonal)):
            yield from ((rows[row], pop) for row in run.tolist())


def _out_and_back(paces: Floats, gap: Callable[[int, int], float], smallest: float) -> list[int]:
    """Return the indices of steps in which a vertex leaps away from its neighbours, and comes back in the next step.

    Both steps must be unusually long compared with the surrounding steps. The result is empty if there are so many such
    steps that the sequence counts as a set of poses.

    Args:
        paces: For each step, the largest distance per frame that a vertex moves relative to its neighbours, (m,), in
            scene units.
        gap: Function that takes two steps. It considers the vertex that moves farthest relative to its neighbours. It
            returns how far the two steps together move this vertex relative to its neighbours, in scene units. It
            returns infinity if different vertices move farthest in the two steps.
        smallest: Distance that each of the two steps must exceed, in scene units.
    """
    found = []
    for out in np.flatnonzero((paces[:-1] > smallest) & (paces[1:] > smallest)).tolist():
        least = float(min(paces[out : out + 2]))
        low = max(0, out - JUMP_WINDOW.value)
        around = np.delete(paces[low : out + JUMP_WINDOW.value + 2], [out - low, out + 1 - low])
        if len(around) < 2 or gap(out, out + 1) > 0.5 * least:
            continue
        if least > JUMP_FACTOR.value * np.median(around) and least > SPIKE_BEYOND.value * around.max():
            found.append(out)
    return found if len(found) <= max(2.0, JUMPS_OF_A_POSE_SET.value * len(paces)) else []


def _at_its_pace(series: Series, rows: list[int]) -> bool:
    """Whether the outermost step at an end of the sequence is at most SPIKE_FACTOR times as long as the step beside it.

    `rows` are the first frames, or the last frames in reverse order.
    """
    first, second = (series.facts[max(pair)].step or 0.0 for pair in pairwise(rows[:3]))
    return first <= SPIKE_FACTOR.value * second


def _as_a_whole(series: Series, off: Floats, index: int) -> bool:
    """Whether moving and scaling the whole object would bring the sampled vertices back to their paths."""
    here = series.samples[index]
    path = here - off[index]
    before = float(np.square(off[index]).sum())
    if not np.isfinite(before) or before == 0.0:
        return False
    here, path = here - here.mean(axis=0), path - path.mean(axis=0)
    size = float(np.square(path).sum())
    factor = float((here * path).sum()) / size if size > 0.0 else 1.0
    return bool(np.square(here - factor * path).sum() <= WHOLE_SHARE.value * before)
