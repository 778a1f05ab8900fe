"""Find jumps in the position and the size of an object, with or without a jump back."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.off_path import off_path, slips
from inspector.checks.base.sizes import SAME_FACTOR, unit_factor
from inspector.checks.base.steps import JUMP_FACTOR, JUMP_WINDOW, Jumps, jumps_in
from inspector.checks.base.stillness import frozen_frames
from inspector.threshold import Threshold

JUMP_UNDONE = Threshold(
    "jump-undone",
    0.6,
    "A jump and the jump back cancel out if the length of their vector sum is at most this share of the sum of their "
    "lengths. The limit is above one half, because the motion goes on during the jumps: if it moves the object by half "
    "the length of a jump in each of the two steps, the share is one half. Two steps of a motion on twos don't cancel "
    "out, because they go in the same direction.",
    "of both lengths",
)

JUMP_DIAGONALS = Threshold(
    "jump-diagonals",
    0.1,
    "The centre of the bounding box counts as jumping only if it moves between two frames by more than this distance. "
    "Smaller movements don't count, because they don't look like jumps in the picture (common practice, no source).",
    "diagonals of the reference frame",
    settable=True,
)
JUMP_SIZE = Threshold(
    "jump-size",
    1.15,
    "The diagonal of the bounding box counts as jumping only if its change between two frames exceeds a limit. The "
    "value is 1 plus this limit as a share of the usual (median) diagonal, so 1.15 allows a change of 15%. Smaller "
    "changes don't count, because flapping or breathing also changes the bounding box a little from frame to frame "
    "(common practice, no source).",
    settable=True,
)

JUMP_BESIDE = Threshold(
    "jump-beside",
    0.2,
    "If the size jumps, scaling may also move the centre. The centre itself counts as jumping only if its distance "
    "from the position that the scaling explains is more than this share of its movement. Some distance is allowed, "
    "because the bounding box measures the change in size only roughly.",
    "of the jump",
)


def centre_jumps(context: CheckContext, least: float) -> tuple[list[int], Jumps]:
    """Find jumps of the bounding box's centre by more than `least` (JUMP_DIAGONALS) times the reference frame's
    diagonal.

    Returns:
        Indices of the frames with a bounding box, and the jumps, as positions in the list of these indices.
    """
    series = context.series
    rows = rows_with(context, np.isfinite(series.diagonals))
    if series.reference_index is None or not series.diagonals[series.reference_index] > 0:
        return rows, Jumps()
    smallest = least * float(series.diagonals[series.reference_index])
    jumps = find_jumps(series.centres[rows], series.times[rows], smallest)
    slipped = {rows.index(index) for index, distance in slips(context).items() if distance > smallest and index in rows}
    outliers = slipped.union(jumps.outliers)
    breaks = {*jumps.breaks, *_ends_off(series.centres[rows], series.times[rows], smallest)} - outliers
    return rows, Jumps(tuple(sorted(outliers)), tuple(sorted(breaks)))


def _ends_off(path: Floats, times: Floats, smallest: float) -> list[int]:
    """Return the indices of the rows before which a path, (n, d), breaks at an end of the sequence.

    The result contains the last row if the path breaks at the end, and row 1 if the path breaks at the beginning.

    A path breaks at an end if the outermost row is farther than `smallest` from the parabola through the next three
    rows. This distance must also be more than JUMP_FACTOR times as large as the corresponding distance of every other
    row near that end. It is enough if the distance along a single axis meets both conditions.
    """
    near = 2 * JUMP_WINDOW.value
    found = []
    for end, at, when in ((len(path) - 1, path, times), (1, path[::-1], times[::-1])):
        if len(path) <= near or (np.abs(np.diff(when[-near:])) != 1.0).any():
            continue
        with np.errstate(over="ignore", invalid="ignore"):
            along = np.abs(np.diff(at[-near:], 3, axis=0))  # distance from the parabola through the three rows before
            off = np.column_stack([np.linalg.norm(along, axis=1), along])
        if (off[-1] > np.maximum(smallest, JUMP_FACTOR.value * off[:-1].max(axis=0))).any():
            found.append(end)
    return found


def moved_beyond_scaling(context: CheckContext, index: int, beside: list[int], least: float) -> bool:
    """Whether the centre moved farther than scaling about the origin or about a point inside the object can explain.

    The result is False if the size doesn't change. It is also False if the size changes by a factor of JUMP_FACTOR or
    more, because the object is then probably in a different unit.

    Args:
        context: The sequence.
        index: Index of the frame.
        beside: Indices of the frames to compare with. For a single outlier, these are the frames before and after it.
        least: Distance that must be exceeded, in diagonals of the reference frame (JUMP_DIAGONALS).
    """
    series = context.series
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        diagonal, place = series.diagonals[beside].mean(), series.centres[beside].mean(axis=0)
        factor = series.diagonals[index] / diagonal
        off_origin = np.linalg.norm(series.centres[index] - factor * place)
        moved = np.linalg.norm(series.centres[index] - place)
        by_pivot = abs(factor - 1.0) * diagonal / 2.0
        usual = max(least * series.diagonals[series.reference_index or 0], JUMP_BESIDE.value * moved)
        return bool(1.0 < max(factor, 1.0 / factor) < JUMP_FACTOR.value and min(off_origin, moved - by_pivot) > usual)


def size_jumps(context: CheckContext, least: float) -> tuple[list[int], Jumps]:
    """Find jumps in size of more than (`least` - 1) times the median size; `least` is the value of JUMP_SIZE.

    Returns:
        Indices of the frames whose size is known, and the jumps, as positions in the list of these indices.
    """
    series = context.series
    rows = rows_with(context, series.diagonals > 0)
    sizes = series.diagonals[rows]
    # Compare sizes, not ratios: if an object grows evenly from almost nothing, its first step has a huge ratio.
    smallest = (least - 1) * float(np.median(sizes)) if rows else 0.0
    return rows, find_jumps(sizes[:, None], series.times[rows], smallest)


def in_other_unit(context: CheckContext, factor: float) -> list[int]:
    """Return the indices, ascending, of the frames that were not exported in the same unit as the reference frame.

    Between such a frame and the reference frame, the size jumps by `factor` (see `unit_factor`), and doesn't jump back.
    """
    sizes, reference = context.series.diagonals, context.series.reference_index
    rows, jumps = size_jumps(context, JUMP_SIZE.value)
    unit, units = 0, []
    for at, row in enumerate(rows):
        if at in jumps.breaks:
            found = unit_factor(float(sizes[row] / sizes[rows[at - 1]]), SAME_FACTOR.value)
            if found is not None and math.isclose(max(found, 1 / found), max(factor, 1 / factor)):
                unit += 1 if found > 1 else -1
        units.append(unit)
    own = units[rows.index(reference)] if reference in rows else 0
    return [row for row, unit in zip(rows, units, strict=True) if unit != own]


def rows_with(context: CheckContext, known: npt.NDArray[np.bool_]) -> list[int]:
    """Return the indices of the frames in which to search for jumps: usable frames with a `known` value, (n,).

    Frozen, turned and mirrored frames are left out, and so are frames in which a part of the surface is off its path.
    """
    series = context.series
    fits = series.usable & known
    fits[frozen_frames(context)] = False
    fits[off_path(context)] = False
    return [int(index) for index in np.flatnonzero(fits)]


def find_jumps(path: Floats, times: Floats, smallest: float) -> Jumps:
    """Return the jumps of values over time (see `jumps_in`), as indices of rows of `path`.

    Args:
        path: The values, one row per frame, (n, d), finite.
        times: Frame numbers divided by the step of the sequence, (n,).
        smallest: Distance per step that a jump must exceed, in the unit of the path.
    """
    with np.errstate(over="ignore"):  # a distance beyond the range of float64 is an infinite step
        steps = np.linalg.norm(np.diff(path, axis=0), axis=1) / np.maximum(np.diff(times), 1.0)

    def gap(out: int, back: int) -> float:
        with np.errstate(over="ignore", invalid="ignore"):
            forth, home = path[out + 1] - path[out], path[back + 1] - path[back]
            both = np.linalg.norm(forth) + np.linalg.norm(home)
            undone = np.linalg.norm(forth + home) <= JUMP_UNDONE.value * both
            return float(np.linalg.norm(path[back + 1] - path[out])) if undone else np.inf

    return jumps_in(steps, gap, smallest)
