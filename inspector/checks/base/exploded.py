"""Find frames that have the reference frame's faces, but far longer edges than neighbouring frames."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_change import ORDER_FACTOR
from inspector.checks.base.helpers import usable


def same_faces(context: CheckContext) -> tuple[int, ...]:
    """Return the indices of usable frames that have the same faces and vertex count as the reference frame."""
    return context.once(_same_faces)


def _same_faces(context: CheckContext) -> tuple[int, ...]:
    base = context.series.reference_facts
    wanted = (base.vertices, base.faces, base.topology)
    facts = context.series.facts
    return tuple(
        index
        for index in usable(context)
        if (facts[index].vertices, facts[index].faces, facts[index].topology) == wanted
    )


def exploded_frames(context: CheckContext) -> tuple[int, ...]:
    """Return the indices of frames with the reference frame's faces, but far longer edges than neighbouring frames.

    The size of the bounding box doesn't explain the edges, so the vertices are scattered or have a different order.
    """
    return context.once(_exploded_frames)


def _exploded_frames(context: CheckContext) -> tuple[int, ...]:
    series = context.series
    frames = [
        index
        for index in same_faces(context)
        if series.facts[index].edge_length > 0.0 and np.isfinite(series.diagonals[index])
    ]
    if len(frames) < 2:
        return ()
    edges = np.array([series.facts[index].edge_length for index in frames])
    starts = [0, *_leaps(edges, series.diagonals[frames]), len(frames)]
    runs = list(pairwise(starts))
    levels = [float(np.median(edges[start:stop])) for start, stop in runs]
    found: list[int] = []
    for at, (start, stop) in enumerate(runs):
        beside = levels[max(0, at - 1) : at] + levels[at + 1 : at + 2]
        if beside and levels[at] > ORDER_FACTOR.value * min(beside):
            found += frames[start:stop]
    return tuple(found)


def _leaps(edges: Floats, sizes: Floats) -> list[int]:
    """Return the indices of frames whose edge length differs from the previous frame's by a factor above ORDER_FACTOR.

    A frame is left out if a change in the size of the bounding box explains the difference. The arguments have one
    value for each frame, (k,).
    """
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        by_edge = np.abs(np.log(edges[1:] / edges[:-1]))
        by_size = np.abs(np.log(sizes[1:] / sizes[:-1]))
    factor = np.log(ORDER_FACTOR.value)
    leaps: list[int] = (np.flatnonzero((by_edge > factor + by_size) & (by_size < factor)) + 1).tolist()
    return leaps
