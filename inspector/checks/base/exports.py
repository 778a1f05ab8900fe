"""Assign each frame to an export by the writing time of its file, and find leftovers of an older export."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator

import numpy as np
import numpy.typing as npt

from inspector import limits
from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import usable
from inspector.checks.base.steps import JUMP_FACTOR
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.series import Series
from inspector.threshold import Threshold

SEAM_SECONDS = Threshold(
    "seam-seconds",
    3600.0,
    "A pause separates two exports only if it is longer than this limit, because the frames of one export are usually "
    "written within minutes of each other. The pause must also meet the condition of `seam-pauses`, because a render "
    "queue may pause for longer within an export (common practice, no source).",
    unit="seconds",
)

SEAM_PAUSES = Threshold(
    "seam-pauses",
    10.0,
    "A pause separates two exports only if it is more than this many times as long as the longest pause within an "
    "export. The limit is relative, because a render queue may also pause for a long time within an export (common "
    "practice, no source).",
)

_TRAITS: dict[str, Callable[[FrameFacts], Hashable]] = {
    "a different vertex count": lambda facts: facts.vertices,
    "different faces": lambda facts: facts.topology,
    "different UVs": lambda facts: facts.uv_values,
    "a different header": lambda facts: facts.header,
    "a different number of decimal places": lambda facts: facts.fixed_decimals,
    "different libraries": lambda facts: tuple(line.name for line in facts.libraries),
    "different objects": lambda facts: facts.objects,
    "different materials": lambda facts: facts.materials,
}


def exports(series: Series) -> npt.NDArray[np.intp]:
    """Return the index of each frame's export, (n,), 0 for the oldest; all 0 if no pause separates two exports.

    The order of the frames doesn't count, because machines that share an export write frames in any order.
    """
    times = np.array([facts.file.mtime_ns for facts in series.facts]) / 1e9
    starts = _starts(np.sort(times))
    return np.searchsorted(starts, times, side="right")


def _starts(times: Floats) -> Floats:
    """From ascending writing times, in seconds, return the times at which all exports but the first begin, (k,)."""
    pauses = np.diff(times)
    longest = np.sort(pauses)[::-1]
    for count in range(1, min(len(longest), limits.PLACES_KEPT) + 1):
        rest = longest[count] if count < len(longest) else 0.0
        if longest[count - 1] > max(SEAM_SECONDS.value, SEAM_PAUSES.value * rest):
            starts: Floats = times[1:][pauses >= longest[count - 1]]
            return starts
    return np.empty(0)


def leftovers(context: CheckContext) -> tuple[list[int], str] | None:
    """Find frames at the beginning or end of the sequence that remain from an older export and differ from the others.

    Returns:
        Indices of the frames, and a description of the difference, such as "different faces"; None if there are no such
        frames.
    """
    series = context.series
    made = exports(series)
    for start, stop in _older_ends(made):
        inside = [index for index in usable(context) if start <= index < stop]
        others = [index for index in usable(context) if not start <= index < stop]
        sign = _difference(series, inside, others) if inside and others else None
        if sign:
            return list(range(start, stop)), sign
    return None


def _older_ends(made: npt.NDArray[np.intp]) -> Iterator[tuple[int, int]]:
    """Yield, for each end of the sequence, the longest run of frames whose exports are all older than those of the
    other frames.

    A run is given as start and stop. The run that contains the last frame comes first. An end without such a run is
    left out.
    """
    count = len(made)
    for cut in range(1, count):
        if made[cut:].max() < made[:cut].min():
            yield cut, count
            break
    for cut in range(count - 1, 0, -1):
        if made[:cut].max() < made[cut:].min():
            yield 0, cut
            break


def _difference(series: Series, inside: list[int], others: list[int]) -> str | None:
    for words, trait in _TRAITS.items():
        theirs = {trait(series.facts[index]) for index in others}
        if not any(trait(series.facts[index]) in theirs for index in inside):
            return words
    seam = inside[0] if inside[0] > others[0] else others[0]
    around = np.delete(series.steps, seam)
    around = around[np.isfinite(around)]
    moved = series.steps[seam]
    return (
        "a jump between older and newer frames"
        if len(around) and moved > JUMP_FACTOR.value * around.max() > 0
        else None
    )
