"""Find single steps that are far longer than the steps around them, and pairs of steps that undo each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats
from inspector.threshold import Threshold

JUMP_FACTOR = Threshold(
    "jump-factor",
    3.0,
    "A step is the movement from one frame to the next. It can count as a jump only if it is more than this many times "
    "as long as the longest step around it. The factor is above 2, because real acceleration may make a step twice as "
    "long as the step before it, but not three times as long (common practice, no source).",
)
JUMP_WINDOW = Threshold(
    "jump-window",
    8,
    "A step is compared with this number of steps before it and the same number of steps after it. The number is also "
    "the maximum length of a run of frames that jumps away and comes back. With this number, steps of a motion on "
    "twos, threes or fours are not reported as jumps, because similar steps recur within 2 to 4 frames.",
    "frames",
)
JUMPS_OF_A_POSE_SET = Threshold(
    "jumps-of-a-pose-set",
    0.25,
    "If more than this share of the frames have a jump, the sequence counts as a set of poses, not as a motion. Its "
    "jumps are not reported, because the frames of a set of poses are meant to differ.",
    "of the frames",
)


@dataclass(frozen=True, slots=True)
class Jumps:
    """The jumps of a value over time.

    Attributes:
        outliers: All rows between a jump away and the jump back.
        breaks: The first row after each jump that is not followed by a jump back.
    """

    outliers: tuple[int, ...] = ()
    breaks: tuple[int, ...] = ()


def jumps_in(
    steps: Floats, gap: Callable[[int, int], float], smallest: float, factor: Threshold[float] = JUMP_FACTOR
) -> Jumps:
    """Find steps that are larger than `smallest`, and more than `factor` times as large as each step around them.

    Two steps that undo each other are judged as a pair, and are not compared with nearby pairs.

    Args:
        steps: Length of the step from each row to the next, (n - 1,).
        gap: Function that takes two steps, out and back. It returns how far the value after the step back is from the
            value before the step out, in the unit of the steps.
        smallest: Length that a step must exceed, in the unit of the steps.
        factor: The ratio that must be exceeded.

    Returns:
        The jumps, as indices of the n values that the steps connect. Empty if n is less than 4, or if there are so many
        jumps that the sequence counts as a set of poses.
    """
    rows = len(steps) + 1
    if rows < 4:
        return Jumps()
    pairs = list(_pairs(steps, gap, smallest, factor.value))
    rest = steps.copy()
    rest[[step for pair in pairs for step in pair]] = 0.0
    leaving = [pair for pair in pairs if _stands_out(rest, float(min(steps[list(pair)])), factor.value, *pair)]
    rest = steps.copy()
    rest[[step for pair in leaving for step in pair]] = 0.0
    large = np.flatnonzero(rest > smallest).tolist()
    breaks = [step for step in large if _stands_out(rest, float(rest[step]), factor.value, step, step)]
    if 2 * len(leaving) + len(breaks) > max(2, JUMPS_OF_A_POSE_SET.value * rows):
        return Jumps()
    outliers = tuple(row for out, back in leaving for row in range(out + 1, back + 1))
    return Jumps(outliers, tuple(step + 1 for step in breaks))


def _stands_out(rest: Floats, size: float, factor: float, first: int, last: int) -> bool:
    """Whether a step, or the shorter step of a pair, is far longer than the steps around it.

    Args:
        rest: Lengths of the steps, (n - 1,); 0 for steps that are ignored.
        size: Length of the step, or of the shorter step of the pair.
        factor: The result is True if `size` is more than this many times the length of every other step near `first`
            and `last`.
        first: Index of the step, or of the first step of the pair.
        last: Index of the step, or of the second step of the pair.
    """
    low = max(0, first - JUMP_WINDOW.value)
    around = rest[low : last + JUMP_WINDOW.value + 1].copy()
    around[[first - low, last - low]] = 0.0
    return bool(size > factor * around.max())


def _pairs(
    steps: Floats, gap: Callable[[int, int], float], smallest: float, factor: float
) -> Iterator[tuple[int, int]]:
    """Yield pairs of a step out and a step back, as indices.

    The two indices differ by at most JUMP_WINDOW, and by at most a third of the number of rows. After the step back,
    the value must be about where it would be without the two steps. The pairs don't overlap. The arguments are those of
    `jumps_in`.
    """
    quiet_before = steps > factor * np.concatenate([[0.0], steps[:-1]])
    quiet_after = steps > factor * np.concatenate([steps[1:], [0.0]])
    outs = np.flatnonzero((steps > smallest) & quiet_before)
    backs = np.flatnonzero((steps > smallest) & quiet_after)
    longest = min(JUMP_WINDOW.value, (len(steps) + 1) // 3)
    usual = float(np.median(steps))
    free = 0
    for out in outs.tolist():
        for back in backs[np.searchsorted(backs, out, "right") :].tolist():
            if out < free or back - out > longest:
                break
            if gap(out, back) < 0.5 * min(steps[out], steps[back]) + usual * (back - out + 1):
                yield out, back
                free = back + 1
                break
