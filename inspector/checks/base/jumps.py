"""Find where the centre or the size of an object jumps, and whether it jumps back."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.off_path import off_path, slips
from inspector.checks.base.steps import JUMP_FACTOR, JUMP_WINDOW, Jumps, jumps_in
from inspector.checks.base.stillness import frozen_frames
from inspector.threshold import Threshold

JUMP_UNDONE = Threshold(
    "jump-undone",
    0.6,
    "Largest share of a jump that may remain when the jump back is added to it. The motion in between adds at most "
    "half a jump, because otherwise the jump would not stand out. Two steps of a motion on twos go in the same "
    "direction and don't cancel out.",
    "of the jump",
)

JUMP_DIAGONALS = Threshold(
    "jump-diagonals",
    0.1,
    "Distance that the centre of the box must move between two frames for the move to count as a jump. Smaller moves "
    "don't look like jumps in the picture (common practice, no source).",
    "diagonals of the reference",
    settable=True,
)
JUMP_SIZE = Threshold(
    "jump-size",
    1.15,
    "Ratio of a box diagonal to the usual (median) diagonal. Above this ratio, the size can count as jumping. "
    "Flapping or breathing changes the box by less from frame to frame (common practice, no source).",
    settable=True,
)

JUMP_BESIDE = Threshold(
    "jump-beside",
    0.2,
    "Largest distance, as a share of the centre's jump, between the centre and the position that scaling explains, if "
    "the size jumps too. At a larger distance, the centre counts as jumping by itself. The box measures the scale "
    "only roughly.",
    "of the jump",
)


def centre_jumps(context: CheckContext, least: float) -> tuple[list[int], Jumps]:
    """Find jumps of the centre of the box, over the frames that have a box.

    Args:
        context: The sequence.
        least: Distance that a jump must exceed, in diagonals of the reference (JUMP_DIAGONALS).

    Returns:
        Indices of the frames, and the jumps as rows of this list.
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
    """Find the rows before which a path breaks at one of its ends.

    At an end, the path breaks if the outermost row is off the parabola through the three rows next to it. It must be
    off by more than `smallest`, and by far more than any other row near that end. One axis is enough, because an object
    that bounces up and down doesn't jump aside.

    Args:
        path: Positions, one row per frame, (n, d), finite.
        times: Frame numbers in steps of the sequence, (n,).
        smallest: Distance that must be exceeded, in the unit of the path.

    Returns:
        The last row if the path breaks at its end, and row 1 if it breaks at its beginning.
    """
    near = 2 * JUMP_WINDOW.value
    found = []
    for end, at, when in ((len(path) - 1, path, times), (1, path[::-1], times[::-1])):
        if len(path) <= near or (np.abs(np.diff(when[-near:])) != 1.0).any():
            continue
        with np.errstate(over="ignore", invalid="ignore"):
            along = np.abs(np.diff(at[-near:], 3, axis=0))  # the next row by a parabola through three rows
            off = np.column_stack([np.linalg.norm(along, axis=1), along])
        if (off[-1] > np.maximum(smallest, JUMP_FACTOR.value * off[:-1].max(axis=0))).any():
            found.append(end)
    return found


def moved_beyond_scaling(context: CheckContext, index: int, beside: list[int], least: float) -> bool:
    """Whether the centre moved farther than scaling the object about the origin, or about a point inside it, explains.

    False if the size doesn't change, or changes by a factor of JUMP_FACTOR or more. An object in other units has
    another position anyway.

    Args:
        context: The sequence.
        index: Index of the frame.
        beside: Indices of the frames to compare with. A single outlier is compared with the frames before and after it,
            and is expected midway between them.
        least: Distance that must be exceeded, in diagonals of the reference (JUMP_DIAGONALS).
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
    """Find jumps of the size, over the frames that have a size.

    Args:
        context: The sequence.
        least: Ratio to the usual size (JUMP_SIZE); a jump must exceed (`least` - 1) times the usual size.

    Returns:
        Indices of the frames, and the jumps as rows of this list.
    """
    series = context.series
    rows = rows_with(context, series.diagonals > 0)
    sizes = series.diagonals[rows]
    # Sizes, not ratios: an object that grows evenly from almost nothing has a huge ratio in its first step.
    smallest = (least - 1) * float(np.median(sizes)) if rows else 0.0
    return rows, find_jumps(sizes[:, None], series.times[rows], smallest)


def rows_with(context: CheckContext, known: npt.NDArray[np.bool_]) -> list[int]:
    """Indices of the frames in which jumps are searched for.

    These are the usable frames that have the value, are not frozen, have no part of the surface off its path, and are
    not turned or mirrored. The motion that a frozen frame missed doesn't make the next frame jump, because the step to
    the next frame is divided by the number of frames that it spans.

    Args:
        context: The sequence.
        known: Whether each frame has the value that may jump, (n,).
    """
    series = context.series
    fits = series.usable & known
    fits[frozen_frames(context)] = False
    fits[off_path(context)] = False
    return [int(index) for index in np.flatnonzero(fits)]


def find_jumps(path: Floats, times: Floats, smallest: float) -> Jumps:
    """Find where values over time jump (see `jumps_in` for what counts as a jump).

    Args:
        path: The values, one row per frame, (n, d), finite.
        times: Frame numbers in steps of the sequence, (n,). A step across missing frames is divided by the number of
            frames that it spans.
        smallest: Distance that a jump from one frame to the next must exceed, in the unit of the path.

    Returns:
        The jumps, as rows of `path`.
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
