"""Surfaces whose points jitter from frame to frame, each point independently of its neighbours."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.exploded import exploded_frames
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, in_diagonals
from inspector.checks.base.off_path import off_path
from inspector.checks.base.smoothness import incoherent
from inspector.checks.base.topology_changes import usual_order
from inspector.checks.base.whole_surfaces import whole_indices
from inspector.names import amount
from inspector.surface.edges import next_corner
from inspector.threshold import Threshold

JITTER_DIAGONALS = Threshold(
    "jitter-diagonals",
    5e-4,
    "Jitter counts as visible only if the median distance of the vertices from their paths is larger than this limit. "
    "The limit corresponds to one to two pixels if the object fills a picture 2,000 to 4,000 pixels wide.",
    "diagonals of the reference frame",
)
JITTER_ROUNDING = Threshold(
    "jitter-rounding",
    2.0,
    "If the median distance of the vertices from their paths is at most this value, it counts as rounding, not as "
    "jitter. The check `few-decimals` deals with rounding.",
    "units of the last decimal place",
)
JITTER_RUN = Threshold(
    "jitter-run",
    6,
    "Jitter is reported only if at least this many consecutive frames jitter. Shorter runs are not reported, because a "
    "single displaced frame disturbs the paths of the vertices in five frames.",
    "frames",
)
JITTER_WHITE = Threshold(
    "jitter-white",
    -0.4,
    "The offsets of a vertex from its path count as jitter only if the correlation between the offsets on consecutive "
    "frames is at most this value. For noise that is independent from frame to frame, the correlation is -0.8, because "
    "each path is computed from the neighbouring frames. For a swing that takes ten frames or more, it is at least "
    "0.8.",
)
JITTER_APART = Threshold(
    "jitter-apart",
    0.5,
    "The two ends of an edge count as moving independently if the squared difference between their offsets is more "
    "than this share of the sum of their squared offsets. The measured share is 0 if the ends move together, and "
    "about 1 if they move independently.",
)

JITTER_HOLD = Threshold(
    "jitter-hold",
    0.5,
    "A step counts as the jitter of a held pose only if at least this share of the vertices' squared displacements "
    "remains after the smooth motion of the surface is subtracted. With noise on 64 sampled vertices, two thirds "
    "remain, because the smooth motion is a cubic field, whose 20 terms explain a third of the noise. With smooth "
    "motion, hardly anything remains.",
    "of the squared displacements",
)
JITTER_HOLDS = Threshold(
    "jitter-holds",
    3,
    "The jitter of held poses is reported only if at least this many consecutive poses jitter. One or two jittering "
    "poses are not reported, because they may be single frames with a different fault.",
    "poses",
)
JITTER_MOVES_ON = Threshold(
    "jitter-moves-on",
    2.0,
    "Poses count as held only if the median step between poses is more than this many times the median step of the "
    "jitter. At a smaller ratio, the poses don't count as held, because the whole motion is shaky.",
)

_LONGEST_HOLD = 4
"""Maximum number of frames from one jittering step to the next. Hand-drawn animation holds each pose for one to four
frames.
"""
_REACH = 2
"""The paths of a frame's vertices are computed from this many frames on each side of the frame."""


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    series = context.series
    diagonal = float(series.diagonals[series.reference_index or 0])
    if not base.faces or not whole_indices(base):
        raise NotApplicable("the reference frame has no faces, or its faces refer to missing vertices")
    if not diagonal > 0:
        raise NotApplicable("the size of the reference frame is zero or unknown")
    off = _off_cubic(context)
    with np.errstate(over="ignore", invalid="ignore"):
        ways = np.median(np.sqrt(np.square(off).sum(axis=-1)), axis=1) if off.shape[1] else np.zeros(len(off))
    least = max(JITTER_DIAGONALS.value * diagonal, JITTER_ROUNDING.value * 10.0**-base.decimals)
    runs = [run for run in long_runs(ways > least) if is_white(off[slice(*run)]) and _trembles(context, run)]
    found = [(*run, float(ways[slice(*run)].max())) for run in runs] + _held_runs(context, least)
    if not found:
        return
    indices = sorted({index for start, stop, _ in found for index in range(start, stop)})
    distance = max(way for _, _, way in found)
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"points jitter by up to {amount(distance, 'unit', '.3g')} ({in_diagonals(distance / diagonal)}), "
        "independently of each other",
        context.numbers(indices),
        files(context, indices),
        {"distance": distance, "diagonals": distance / diagonal},
    )


def _off_cubic(context: CheckContext) -> Floats:
    """Return the offset of each sampled vertex from its path in each frame, (n, s, 3), in scene units.

    The path is the cubic through the vertex's positions in the two frames before that frame and the two frames after
    it. If vertices can be followed, their positions are relative to the surrounding surface (`incoherent`). Offsets are
    NaN if one of the five frames is missing, repeats the previous frame, is off its path, has far longer edges, or has
    its vertices in a different order.
    """
    series = context.series
    rough, times = context.once(incoherent), series.times
    places = series.samples if rough is None else rough  # the motion of the whole object may be off a cubic by far more
    off = np.full(places.shape, np.nan)
    if len(places) <= 2 * _REACH or not places.shape[1]:
        return off
    with np.errstate(over="ignore", invalid="ignore"):
        off[_REACH:-_REACH] = off_path_of([places[at : len(places) - 2 * _REACH + at] for at in range(2 * _REACH + 1)])
    held = {index for index, facts in enumerate(series.facts) if facts.still}
    torn = {*off_path(context), *exploded_frames(context)}
    for index in held | torn | (set(range(len(places))) - set(usual_order(context))):
        off[max(0, index - _REACH) : index + _REACH + 1] = np.nan
    off[_REACH:-_REACH][times[2 * _REACH :] - times[: -2 * _REACH] != 2 * _REACH] = np.nan
    return off


def is_white(off: Floats) -> bool:
    """Whether most points change to the other side of their paths from frame to frame, as in noise.

    For each point, the offset in each frame is correlated with the offset in the next frame. The median correlation of
    the points must not exceed JITTER_WHITE. The result is False if no correlation is known.

    Args:
        off: Offsets of the points from their paths in consecutive frames, (f, s, 3), in scene units.
    """
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        alike = (off[1:] * off[:-1]).sum(axis=(0, 2)) / np.square(off[1:]).sum(axis=(0, 2))
        return bool(np.nanmedian(alike) <= JITTER_WHITE.value) if np.isfinite(alike).any() else False


def off_path_of(places: Sequence[Floats]) -> Floats:
    """Return the offset of the third of five positions from the cubic through the other four, in scene units.

    For positions a to e at equal time steps, the cubic's value in place of c is (-a + 4 b + 4 d - e) / 6 (Lagrange's
    interpolation formula).
    """
    a, b, c, d, e = places
    return np.asarray(c - (4.0 * (b + d) - (a + e)) / 6.0)


def long_runs(flags: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    """Return the runs, as start:stop, of at least JITTER_RUN flagged frames in a row."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    pairs = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    return [(start, stop) for start, stop in pairs if stop - start >= JITTER_RUN.value]


def _trembles(context: CheckContext, run: tuple[int, int]) -> bool:
    """Whether neighbouring vertices are off their paths independently of each other in the middle frame of a run."""
    middle = sum(run) // 2
    around = range(middle - _REACH, middle + _REACH + 1)
    with np.errstate(over="ignore", invalid="ignore"):
        return _apart(context, middle, off_path_of([context.frame(index).positions for index in around]))


def _held_runs(context: CheckContext, least: float) -> list[tuple[int, int, float]]:
    """Find runs of frames in which held poses jitter, in a motion on twos, threes or fours.

    The median distance of the vertices from their paths must exceed `least`, in scene units. This median distance is
    estimated from two consecutive frames of a pose. The estimate is the vertices' median step between the two frames,
    divided by the square root of 2, because each vertex is off its path independently in the two frames.

    Returns:
        For each run: start, stop, and the largest median distance in the run, in scene units. Empty if vertices can't
        be followed.
    """
    rough, samples = context.once(incoherent), context.series.samples
    if rough is None:
        return []
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        steps = np.square(np.diff(samples, axis=0)).sum(axis=-1)
        share = np.square(np.diff(rough, axis=0)).sum(axis=(1, 2)) / steps.sum(axis=1)
        ways = np.sqrt(np.median(steps, axis=1) / 2.0)
        tremble = (ways > least) & (share >= JITTER_HOLD.value) & context.series.follows[1:]
    at = np.flatnonzero(tremble) + 1
    found = []
    for run in np.split(at, np.flatnonzero(np.diff(at) > _LONGEST_HOLD) + 1):
        poses = 1 + np.count_nonzero(np.diff(run) > 1)  # a pose of three or more frames has several steps in a row
        if poses < JITTER_HOLDS.value or run[-1] - run[0] + 2 < JITTER_RUN.value:
            continue
        between = np.setdiff1d(np.arange(run[0], run[-1]), run)
        if not len(between) or not np.median(ways[between - 1]) > JITTER_MOVES_ON.value * np.median(ways[run - 1]):
            continue
        middle = int(run[len(run) // 2])
        if _apart(context, middle, context.frame(middle).positions - context.frame(middle - 1).positions):
            found.append((int(run[0]) - 1, int(run[-1]) + 1, float(ways[run - 1].max())))
    return found


def _apart(context: CheckContext, index: int, off: Floats) -> bool:
    """Whether the two ends of the median edge are off their paths independently of each other, by a visible distance.

    `off` contains the offsets of the frame's vertices from their paths, (n, 3), in scene units.
    """
    diagonal = float(context.series.diagonals[context.series.reference_index or 0])
    with np.errstate(over="ignore", invalid="ignore"):
        corners = context.frame(index).corners
        one, other = off[corners.v], off[corners.v[next_corner(corners)]]
        each = np.median(np.square(one).sum(axis=1) + np.square(other).sum(axis=1))
        between = np.median(np.square(one - other).sum(axis=1))
        seen = 2.0 * (JITTER_DIAGONALS.value * diagonal) ** 2
        return bool(between > JITTER_APART.value * each and between > seen)


CHECK = Check(
    id="jitter",
    title="Jittering points",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Points jitter from frame to frame, each point independently of its neighbours. The usual cause is an "
        "unstable simulation or a noisy capture. An object that shakes as a whole is not reported.",
        after_import="The surface seems to boil: highlights and shadows crawl over it, and motion blur flickers.",
        what_to_do="Increase the number of simulation steps, or smooth the cache over time. Then export all frames "
        "again.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(
        *(JITTER_DIAGONALS, JITTER_ROUNDING, JITTER_RUN, JITTER_WHITE, JITTER_APART),
        *(JITTER_HOLD, JITTER_HOLDS, JITTER_MOVES_ON),
    ),
)
