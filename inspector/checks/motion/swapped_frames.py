"""Neighbouring frames in the wrong order."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base import time_edits
from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files
from inspector.checks.base.smoothness import ROUGHNESS_LEFT, exchanged, gaps, places
from inspector.checks.base.steps import JUMPS_OF_A_POSE_SET
from inspector.sequence.discovery.settings import frame_text
from inspector.threshold import Threshold

SWAPPED_APART = Threshold(
    "swapped-apart",
    1e-4,
    "The order of two frames counts as visible only if the root-mean-square distance between the frames is at least "
    "this. This limit corresponds to a tenth of a pixel if the object fills a picture 1,000 pixels wide.",
    "diagonals of the reference frame",
)


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    followed = places(context)
    least = SWAPPED_APART.value * float(context.series.diagonals[context.series.reference_index or 0])
    if not least > 0.0 or not followed.shape[1]:
        return
    with np.errstate(over="ignore", invalid="ignore"):
        curve = followed.reshape(len(followed), -1)
        apart = np.linalg.norm(np.diff(curve, axis=0), axis=1) >= least * followed.shape[1] ** 0.5
        likely = {*exchanged(curve, gaps(context)), *time_edits.exchanged(time_edits.paths(context))}
        found = sorted({*(index for index in likely if apart[index]), *_swapped_holds(curve)})
    if not found or 2 * len(found) > max(2.0, JUMPS_OF_A_POSE_SET.value * len(curve)):
        return
    indices = sorted({index for first in found for index in (first, first + 1)})
    pairs = [" and ".join(frame_text(context.series.facts[first + k].number) for k in (0, 1)) for first in found[:3]]
    more = f"; and {len(found) - 3:,} more" if len(found) > 3 else ""
    swapped = (
        f"frames {pairs[0]} are"
        if len(found) == 1
        else f"{len(found):,} pairs of frames ({'; '.join(pairs)}{more}) are"
    )
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"{swapped} swapped: in the opposite order, the motion is smooth",
        context.numbers(indices),
        files(context, indices),
        {"pairs": len(found)},
    )


def _swapped_holds(curve: Floats) -> list[int]:
    """Return the first frame of each pair of neighbours swapped in a motion on twos: the poses a a b b became a b a b.

    The result is empty if there are fewer than six frames, or if the motion is not on twos.
    """
    if len(curve) < 6:
        return []
    moved = np.linalg.norm(np.diff(curve, axis=0), axis=1)
    if 3 * np.count_nonzero(moved == 0.0) < len(moved):
        return []
    return [
        index
        for index in range(2, len(curve) - 3)
        if moved[index] > 0.0
        and np.array_equal(curve[index - 1], curve[index + 1])
        and np.array_equal(curve[index], curve[index + 2])
        and (curve[index - 1] - curve[index - 2]) @ (curve[index] - curve[index - 1]) > 0.0
        and (curve[index + 3] - curve[index + 2]) @ (curve[index] - curve[index - 1]) > 0.0
    ]


CHECK = Check(
    id="swapped-frames",
    title="Neighbouring frames swapped",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Two neighbouring frames are in the wrong order, so the motion goes forwards, backwards and forwards "
        "again. In the opposite order, the motion is smooth.",
        after_import="The motion stutters for a moment, and motion blur points backwards on one frame.",
        what_to_do="Look at the two frames. A render queue that renames files may have swapped them. Swap the two file "
        "names, or export both frames again.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(ROUGHNESS_LEFT, SWAPPED_APART, JUMPS_OF_A_POSE_SET),
)
