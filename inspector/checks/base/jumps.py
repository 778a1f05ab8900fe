"""Single steps that stand out of their surroundings: where a value jumps, and whether it comes back."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector import limits
from inspector.arrays import Floats
from inspector.checks.base.off_path import off_path
from inspector.checks.base.steps import Jumps, jumps_in
from inspector.checks.base.stillness import frozen_frames
from inspector.sequence.series import Series


def rows_with(series: Series, known: npt.NDArray[np.bool_]) -> list[int]:
    """Indices of the frames in which jumps are looked for: whole, `known` (n,), not frozen, and with all of the surface
    on its path. What a frozen frame missed is no jump of the next: it counts as two steps."""
    fits = series.usable & known
    fits[frozen_frames(series)] = False
    fits[off_path(series)] = False
    return [int(index) for index in np.flatnonzero(fits)]


def find_jumps(path: Floats, times: Floats, smallest: float) -> Jumps:
    """Rows of `path` (n, d), finite, that jump by more than `smallest` (its unit) a frame.

    times (n,): frame numbers in steps of the sequence; a way over missing frames counts as so many steps. What stands
    out: see `jumps_in`.
    """
    with np.errstate(over="ignore"):  # a way beyond what a float64 holds is a step without end
        steps = np.linalg.norm(np.diff(path, axis=0), axis=1) / np.maximum(np.diff(times), 1.0)

    def gap(out: int, back: int) -> float:
        with np.errstate(over="ignore", invalid="ignore"):
            forth, home = path[out + 1] - path[out], path[back + 1] - path[back]
            both = np.linalg.norm(forth) + np.linalg.norm(home)
            undone = np.linalg.norm(forth + home) <= limits.JUMP_UNDONE * both
            return float(np.linalg.norm(path[back + 1] - path[out])) if undone else np.inf

    return jumps_in(steps, gap, smallest)
