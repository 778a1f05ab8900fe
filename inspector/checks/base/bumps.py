"""Find single frames with vertices off the surrounding surface, in meshes whose vertex count keeps changing."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.off_path import SPIKE_DIAGONALS, SPIKE_FACTOR, Pop
from inspector.checks.base.steps import JUMP_FACTOR, JUMP_WINDOW, JUMPS_OF_A_POSE_SET
from inspector.checks.base.whole_surfaces import whole_surfaces
from inspector.threshold import Threshold

BUMP_SHARE = Threshold(
    "bump-share",
    0.05,
    "If at most this share of all vertices are about as far from the surrounding surface as the farthest vertex, these "
    "vertices count as a spike. A larger share counts as noise, because noise displaces many vertices.",
    "of the vertices",
)


def bumps(context: CheckContext) -> dict[int, Pop]:
    """Find frames in which a few vertices are much farther from the surrounding surface than in nearby frames.

    Returns:
        Index of the frame -> the farthest vertex, its distance from the surrounding surface, and the share of vertices
        that are about as far off. Empty if the distance is known for at most half of the frames, or if implausibly many
        frames are found.
    """
    series = context.series
    off = {index: bump for index in whole_surfaces(context) if (bump := series.facts[index].bump) is not None}
    if series.reference_index is None or 2 * len(off) <= len(series.facts):
        return {}
    ways = np.full(len(series.facts), np.nan)
    ways[list(off)] = np.linalg.norm([bump.displacement for bump in off.values()], axis=1)
    smallest = SPIKE_DIAGONALS.value * float(series.diagonals[series.reference_index])
    found = {}
    for index, bump in off.items():
        vertices = series.facts[index].vertices
        few = bump.alike <= max(1.0, BUMP_SHARE.value * vertices)
        if few and ways[index] > max(smallest, usual_around(ways, index)):
            found[index] = Pop(bump.vertex, float(ways[index]), bump.alike / vertices)
    return found if len(found) <= max(2.0, JUMPS_OF_A_POSE_SET.value * len(ways)) else {}


def usual_around(ways: Floats, index: int) -> float:
    """Return how far a frame's farthest vertex may be from the surrounding surface, judging by nearby frames.

    The result is in scene units, and infinite if the distance is known for too few nearby frames. `ways` contains the
    distance of each frame's farthest vertex from the surrounding surface, (n,); NaN if unknown.
    """
    low = max(0, index - JUMP_WINDOW.value)
    around = np.delete(ways[low : index + JUMP_WINDOW.value + 1], index - low)
    around = around[np.isfinite(around)]
    if 2 * len(around) < JUMP_WINDOW.value:
        return np.inf
    return float(max(SPIKE_FACTOR.value * around.max(), JUMP_FACTOR.value * np.median(around)))
