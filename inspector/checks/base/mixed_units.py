"""Frames that were exported in a different unit than the other frames, in several blocks."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from itertools import pairwise

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.jumps import JUMP_SIZE
from inspector.checks.base.sizes import SAME_FACTOR, unit_factor
from inspector.checks.base.smoothness import places
from inspector.threshold import Threshold

SCALED_ALIKE = Threshold(
    "scaled-alike",
    0.3,
    "An object counts as scaled only if the relative changes in several measures of its size differ by at most this "
    "share of the mean change. If they differ by more, the object doesn't count as scaled, because scaling changes "
    "all these measures by the same ratio.",
)


def mixed_units(context: CheckContext) -> Mapping[int, float]:
    """Find the frames in a wrong unit, if the unit changes and later changes back.

    A single frame in another unit, and a change that lasts until the end, are found by `size_jumps`. At each change,
    the object must be scaled as a whole by the factor between two units. All other steps must be smaller than a jump,
    because the sizes in a set of poses may also differ by such a factor by chance.

    Returns:
        Index of the frame -> its size as a multiple of its size in the right unit. The right unit is the unit that
        fits the stated size. If no size is stated, it is the unit of most frames.
    """
    return context.once(_mixed_units)


def _mixed_units(context: CheckContext) -> Mapping[int, float]:
    sizes = context.series.diagonals
    rows = [int(row) for row in np.flatnonzero(context.series.usable & (sizes > 0) & np.isfinite(sizes))]
    unit, units, changes = 1.0, [1.0], []
    for before, after in pairwise(rows):
        with np.errstate(over="ignore"):
            ratio = float(sizes[after] / sizes[before])
        factor = unit_factor(ratio, SAME_FACTOR.value)
        if factor is not None and scaled_whole(context, before, after):
            unit *= factor
            changes.append(len(units))
        elif max(ratio, 1 / ratio) > JUMP_SIZE.value:
            return {}
        units.append(float(f"{unit:.6g}"))  # 100, not 100.00000000000001
    run = len(changes) == 2 and units[0] == units[-1] and changes[1] - changes[0] > 1
    if len(changes) < 3 and not run:
        return {}
    right = _right(context, dict(zip(rows, units, strict=True)))
    return {row: float(f"{own / right:.6g}") for row, own in zip(rows, units, strict=True) if own != right}


def _right(context: CheckContext, units: Mapping[int, float]) -> float:
    """Return the right unit, as a multiple of the first frame's unit; `units` contains the unit of each frame."""
    stated, reference = context.settings.size, context.series.reference_index
    many = Counter(units.values())
    if reference is None or reference not in units:
        return max(many, key=lambda unit: many[unit])
    if stated is None:
        return max(many, key=lambda unit: (many[unit], unit == units[reference]))
    size = context.series.reference_size / units[reference]
    return min(many, key=lambda unit: abs(math.log(size * unit / stated)))


def distances(context: CheckContext) -> Floats:
    """Return the distances, (n, d), in scene units, between d pairs of the points that `places` returns.

    If the points are the corners of the bounding box, the lengths of its sides are returned instead, (n, 3).
    """
    followed = places(context)
    if followed is context.series.boxes:
        return np.asarray(followed[:, 1] - followed[:, 0])
    half = followed.shape[1] // 2
    return np.asarray(np.linalg.norm(followed[:, :half] - followed[:, half : 2 * half], axis=2))


def scaled_whole(context: CheckContext, before: int, after: int) -> bool:
    """Whether the object is scaled as a whole from one frame to another.

    At least three quarters of the distances between points of the object must change by the same factor as the diagonal
    of the bounding box, to within SCALED_ALIKE.
    """
    if places(context).shape[1] < 2:
        return False
    mean = math.log(context.series.diagonals[after] / context.series.diagonals[before])
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        away = distances(context)
        off = np.abs(np.log(away[after] / away[before]) - mean)
    off = off[np.isfinite(off)]
    return bool(off.size and np.quantile(off, 0.75) <= SCALED_ALIKE.value * abs(mean))
