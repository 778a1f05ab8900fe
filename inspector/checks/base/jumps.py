"""Single steps that stand out of their surroundings: where a value jumps, and whether it comes back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector import limits
from inspector.checks.base.stillness import frozen_frames
from inspector.formats.frame import FloatArray
from inspector.sequence.series import Series


@dataclass(frozen=True, slots=True)
class Jumps:
    """outliers: rows that leave and come back; breaks: rows from which on the value stays elsewhere."""

    outliers: tuple[int, ...] = ()
    breaks: tuple[int, ...] = ()


def rows_with(series: Series, known: npt.NDArray[np.bool_]) -> list[int]:
    """Indices of the frames in which jumps are looked for: whole, `known` (n,), and not frozen. What a frozen frame
    missed is no jump of the next: it counts as two steps."""
    fits = series.usable & known
    fits[frozen_frames(series)] = False
    return [int(index) for index in np.flatnonzero(fits)]


def find_jumps(path: FloatArray, times: FloatArray, smallest: float) -> Jumps:
    """Rows of `path` (n, d), finite, that jump by more than `smallest` (its unit) a frame.

    times (n,): frame numbers in steps of the sequence; a way over missing frames counts as so many steps. A step
    stands out where it is limits.JUMP_FACTOR times each step around it. Two that undo each other stand out
    together; other such pairs near them don't count. Where jumping is what the sequence does (a pose set), nothing
    is reported.
    """
    if len(path) < 4:
        return Jumps()
    with np.errstate(over="ignore"):  # a way beyond what a float64 holds is a step without end
        steps = np.linalg.norm(np.diff(path, axis=0), axis=1) / np.maximum(np.diff(times), 1.0)
    pairs = list(_pairs(path, steps, smallest))
    rest = steps.copy()
    rest[[step for pair in pairs for step in pair]] = 0.0
    leaving = [pair for pair in pairs if _stands_out(rest, float(min(steps[list(pair)])), *pair)]
    rest = steps.copy()
    rest[[step for pair in leaving for step in pair]] = 0.0
    large = np.flatnonzero(rest > smallest).tolist()
    breaks = [step for step in large if _stands_out(rest, float(rest[step]), step, step)]
    if 2 * len(leaving) + len(breaks) > max(2, limits.JUMPS_OF_A_POSE_SET * len(path)):
        return Jumps()
    outliers = tuple(row for out, back in leaving for row in range(out + 1, back + 1))
    return Jumps(outliers, tuple(step + 1 for step in breaks))


def _stands_out(rest: FloatArray, size: float, first: int, last: int) -> bool:
    """Whether `size` is far above every step of `rest` near first:last + 1, these two not counted."""
    low = max(0, first - limits.JUMP_WINDOW)
    around = rest[low : last + limits.JUMP_WINDOW + 1].copy()
    around[[first - low, last - low]] = 0.0
    return bool(size > limits.JUMP_FACTOR * around.max())


def _pairs(path: FloatArray, steps: FloatArray, smallest: float) -> Iterator[tuple[int, int]]:
    """Steps out and back, at most limits.JUMP_WINDOW apart, with a quiet step before and behind: the second leads
    to where the path would be without both. The nearest such pairs, none within another."""
    quiet_before = steps > limits.JUMP_FACTOR * np.concatenate([[0.0], steps[:-1]])
    quiet_behind = steps > limits.JUMP_FACTOR * np.concatenate([steps[1:], [0.0]])
    outs = np.flatnonzero((steps > smallest) & quiet_before)
    backs = np.flatnonzero((steps > smallest) & quiet_behind)
    longest = min(limits.JUMP_WINDOW, len(path) // 3)
    usual = float(np.median(steps))
    free = 0
    for out in outs.tolist():
        for back in backs[np.searchsorted(backs, out, "right") :].tolist():
            if out < free or back - out > longest:
                break
            with np.errstate(over="ignore"):
                gap = float(np.linalg.norm(path[back + 1] - path[out]))
            if gap < 0.5 * min(steps[out], steps[back]) + usual * (back - out + 1):
                yield out, back
                free = back + 1
                break
