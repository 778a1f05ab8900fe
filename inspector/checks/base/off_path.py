"""Frames on which a part of the surface is off the path that it takes before and behind: pops and spikes.

The path of a vertex is straight between two neighbouring frames. One frame that is off by a way w shows as w, with the
frames beside it off by -w/2 each; no healthy motion looks like that.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from inspector import limits
from inspector.arrays import Flags, Floats
from inspector.checks.base.steps import jumps_in
from inspector.checks.base.turned import turned_frames
from inspector.sequence.measure.motion_facts import sampled
from inspector.sequence.series import Series


@dataclass(frozen=True, slots=True)
class Pop:
    """way: how far the vertex that is off most is off, scene units; share: of all vertices, about, that are."""

    vertex: int
    way: float
    share: float


@dataclass(frozen=True, slots=True)
class OffPath:
    """By index of the frame: spikes, where a few vertices leap; parts, where more of the surface does; whole, where the
    object as a whole is moved or scaled."""

    spikes: Mapping[int, Pop] = field(default_factory=dict)
    parts: Mapping[int, Pop] = field(default_factory=dict)
    whole: Mapping[int, Pop] = field(default_factory=dict)


def off_path(series: Series) -> list[int]:
    """Indices of the frames with a part of the surface off its path, or turned on its back: its box says nothing of the
    object."""
    found = pops_and_spikes(series)
    return sorted({*found.spikes, *found.parts, *turned_frames(series)})


@lru_cache(maxsize=2)
def pops_and_spikes(series: Series) -> OffPath:
    """All frames that are off; a score of checks ask for them, one series after the other."""
    if series.reference_index is None or not series.diagonals[series.reference_index] > 0:
        return OffPath()
    smallest = limits.POP_DIAGONALS * float(series.diagonals[series.reference_index])
    with np.errstate(over="ignore", invalid="ignore"):
        off = _off(series)
        popped = dict(_popped(series, off, smallest))
        popped |= dict(_leaping(series, smallest))
    popped = {
        index: pop for index, pop in popped.items() if series.facts[index].topology == series.reference_facts.topology
    }
    popped = {index: pop for index, pop in popped.items() if index not in turned_frames(series)}
    spikes = {index: pop for index, pop in popped.items() if _few(series, pop)}
    rest = {index: pop for index, pop in popped.items() if index not in spikes}
    if len(rest) > max(2.0, limits.JUMPS_OF_A_POSE_SET * len(series.facts)):
        return OffPath(spikes)
    whole = {index: pop for index, pop in rest.items() if _as_a_whole(series, off, index)}
    return OffPath(spikes, {index: pop for index, pop in rest.items() if index not in whole}, whole)


def _few(series: Series, pop: Pop) -> bool:
    return pop.share * series.reference_facts.vertices <= max(
        limits.SPIKE_FEW, limits.SPIKE_SHARE * series.reference_facts.vertices
    )


def _off(series: Series) -> Floats:
    """(n, s, 3): how far the sampled vertices are off the middle of the frames beside, scene units; NaN where those
    aren't one step before and behind."""
    places = series.samples
    off = np.full(places.shape, np.nan)
    off[1:-1] = places[1:-1] - (places[:-2] + places[2:]) / 2.0
    apart = ~series.follows[1:]
    off[1:][apart] = np.nan
    off[:-1][apart] = np.nan
    return off


def _popped(series: Series, off: Floats, smallest: float) -> Iterator[tuple[int, Pop]]:
    """Frames on which sampled vertices pop."""
    if len(off) < 4 or not off.shape[1]:
        return
    ways = np.sqrt(np.einsum("nsi,nsi->ns", off, off))
    steps = np.sqrt(np.einsum("nsi,nsi->ns", *2 * (np.diff(series.samples, axis=0),)))
    likely = (ways > smallest) & np.isfinite(ways) & _shaped(off, ways)
    for index in np.flatnonzero(likely.any(axis=1)).tolist():
        vertices = np.flatnonzero(likely[index])
        vertices = vertices[_stands_out(ways[:, vertices], steps[:, vertices], index)]
        if len(vertices):
            farthest = int(vertices[ways[index, vertices].argmax()])
            way = float(ways[index, farthest])
            yield index, Pop(int(sampled(series.reference_facts.vertices)[farthest]), way, len(vertices) / off.shape[1])


def _shaped(off: Floats, ways: Floats) -> Flags:
    """(n, s): whether the frames beside are thrown off by half the way, backwards; at the ends, that on one side."""
    fits = np.ones(ways.shape, bool)
    known = np.zeros(ways.shape, bool)
    for here, beside in ((slice(1, None), slice(None, -1)), (slice(None, -1), slice(1, None))):
        left = off[beside] + off[here] / 2.0
        there = np.isfinite(left).all(axis=-1)
        fits[here] &= ~there | (np.sqrt(np.einsum("nsi,nsi->ns", left, left)) <= limits.POP_SHAPE * ways[here])
        known[here] |= there
    return fits & known


def _stands_out(ways: Floats, steps: Floats, index: int) -> Flags:
    """(s,): whether the way off at `index` is far above what is usual for these vertices on the frames around."""
    low = max(0, index - limits.JUMP_WINDOW)
    around = ways[low : index + limits.JUMP_WINDOW + 1].copy()
    around[max(0, index - 1 - low) : index + 2 - low] = np.nan
    around = around[np.isfinite(around).all(axis=1)]
    paces = steps[low : index + limits.JUMP_WINDOW]
    paces = paces[np.isfinite(paces).all(axis=1)]
    if len(around) < 2:
        return np.zeros(ways.shape[1], bool)
    usual = np.maximum(limits.POP_SPREADS * spread(around), limits.POP_OF_SPEED * np.median(paces, axis=0))
    return np.asarray(ways[index] > usual)


def spread(ways: Floats) -> Floats:
    """(s,): robust spread of ways (n, s) off a path, which are 0 on it: 1.4826 times their median (see
    limits.POP_SPREADS)."""
    return np.asarray(1.4826 * np.median(np.abs(ways), axis=0))


def _leaping(series: Series, smallest: float) -> Iterator[tuple[int, Pop]]:
    """Frames on which the vertex that moves farthest of all leaps out and back.

    Those of several frames only where they are few and leap far: a part may well move, wait, and move back.
    """
    rows = [
        index
        for index, facts in enumerate(series.facts)
        if index == 0 or (series.usable[index] and facts.step is not None)
    ]
    leaps = [series.facts[index].leap for index in rows[1:]]
    ways = np.array([np.zeros(3) if leap is None else leap.way for leap in leaps]).reshape(-1, 3)
    vertices = [-1 if leap is None else leap.vertex for leap in leaps]

    def gap(out: int, back: int) -> float:
        return float(np.linalg.norm(ways[out] + ways[back])) if vertices[out] == vertices[back] else np.inf

    paces = np.linalg.norm(ways, axis=1) / np.maximum(np.diff(series.times[rows]), 1.0)
    outliers = jumps_in(paces, gap, smallest).outliers
    far = limits.JUMP_DIAGONALS / limits.POP_DIAGONALS * smallest
    for run in np.split(np.array(outliers, int), np.flatnonzero(np.diff(outliers) > 1) + 1):
        leap = leaps[run[0] - 1] if len(run) else None
        if leap is None:
            continue
        pop = Pop(leap.vertex, float(np.linalg.norm(leap.way)), leap.alike / series.reference_facts.vertices)
        if len(run) == 1 or (_few(series, pop) and pop.way > far):
            yield from ((rows[row], pop) for row in run.tolist())


def _as_a_whole(series: Series, off: Floats, index: int) -> bool:
    """Whether moving and scaling the object as a whole would bring the sampled vertices back on their path."""
    here = series.samples[index]
    path = here - off[index]
    before = float(np.square(off[index]).sum())
    if not np.isfinite(before) or before == 0.0:
        return False
    here, path = here - here.mean(axis=0), path - path.mean(axis=0)
    size = float(np.square(path).sum())
    factor = float((here * path).sum()) / size if size > 0.0 else 1.0
    return bool(np.square(here - factor * path).sum() <= limits.WHOLE_SHARE * before)
