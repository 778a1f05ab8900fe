"""Single steps that stand out of their surroundings: where a value jumps, and whether it comes back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from inspector import limits
from inspector.formats.frame import FloatArray


@dataclass(frozen=True, slots=True)
class Jumps:
    """outliers: rows that leave and come back; breaks: rows from which on the value stays elsewhere."""

    outliers: tuple[int, ...] = ()
    breaks: tuple[int, ...] = ()


def find_jumps(path: FloatArray, smallest: float) -> Jumps:
    """Rows of `path` (n, d), finite, one a frame, that jump by more than `smallest` (its unit).

    A step stands out where it is limits.JUMP_FACTOR times the second largest of the steps around it (the largest may
    be the way back). Where jumping is what the sequence does (a pose set), nothing is reported.
    """
    if len(path) < 4:
        return Jumps()
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
    leaps = [index for index in np.flatnonzero(steps > smallest) if _stands_out(steps, int(index))]
    if len(leaps) > max(2, limits.JUMPS_OF_A_POSE_SET * len(path)):
        return Jumps()
    return _pair_up(path, steps, [int(leap) for leap in leaps])


def _stands_out(steps: FloatArray, index: int) -> bool:
    low, high = max(0, index - limits.JUMP_WINDOW), index + limits.JUMP_WINDOW + 1
    around = np.delete(steps[low:high], index - low)
    second = np.sort(around)[-2] if len(around) > 1 else 0.0
    return bool(steps[index] > limits.JUMP_FACTOR * second)


def _pair_up(path: FloatArray, steps: FloatArray, leaps: Sequence[int]) -> Jumps:
    """Two leaps of which the second undoes the first enclose outliers; a leap alone is a break."""
    outliers: list[int] = []
    breaks: list[int] = []
    order = 0
    while order < len(leaps):
        out = leaps[order]
        back = leaps[order + 1] if order + 1 < len(leaps) else None
        if back is not None and _undone(path, steps, out, back):
            outliers += range(out + 1, back + 1)
            order += 2
        else:
            breaks.append(out + 1)
            order += 1
    return Jumps(tuple(outliers), tuple(breaks))


def _undone(path: FloatArray, steps: FloatArray, out: int, back: int) -> bool:
    """Whether the path behind the second leap goes on about where it was before the first, given its usual pace."""
    gap = float(np.linalg.norm(path[back + 1] - path[out]))
    usual = float(np.median(steps))
    return back - out <= len(path) // 3 and gap < 0.5 * min(steps[out], steps[back]) + usual * (back - out + 1)
