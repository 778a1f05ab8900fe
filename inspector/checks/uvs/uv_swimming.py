"""UVs that change from frame to frame throughout the sequence."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from inspector import limits
from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_with_uvs, files
from inspector.checks.base.uv_compare import corner_uvs, moving_uvs
from inspector.formats.format import Trait
from inspector.threshold import Threshold

SWIM_SMOOTH = Threshold(
    "swim-smooth",
    0.0,
    "The UVs count as jittering if the correlation between their displacements in two successive steps is below this "
    "value. In a steady drift, the correlation is about 1. In noise, it is about -0.5, because the displacements are "
    "differences of independent values with equal variance.",
)


def run(context: CheckContext) -> Iterator[Finding]:
    base_with_uvs(context)
    moving = moving_uvs(context)
    if not moving:
        return
    steps = {index: step for index in moving if (step := context.series.facts[index].uv_step)}
    reach = _reach(context, moving[-1])
    longest = max(steps.values(), default=0.0)
    if max(reach, longest) <= limits.UV_DIFFERENCE.value:
        return
    usual = float(np.median(list(steps.values()))) if steps else 0.0
    jittering = _jitters(context, sorted(steps))
    yield Finding(
        CHECK.id,
        Severity.WARNING if jittering else Severity.NOTE,
        f"the UVs {'jitter' if jittering else 'drift'} throughout the sequence: they move by {usual:.3g} texture "
        f"widths in a typical step, by {longest:.3g} in the longest step, and by {reach:.3g} from the reference frame "
        "to the last frame",
        context.numbers(moving),
        files(context, moving),
        {"usual": usual, "longest": longest, "reach": reach},
        CHECK.fixes if jittering else (),
    )


@np.errstate(over="ignore", invalid="ignore")  # a displacement that overflows counts as no displacement
def _reach(context: CheckContext, last: int) -> float:
    """Return the largest displacement of a corner's UV from the reference frame to another frame, in texture widths.

    The result is 0 if the displacement is beyond the range of float64. Both frames must have the same faces and a UV at
    every corner.
    """
    displacement = corner_uvs(context.frame(last)) - corner_uvs(context.reference_frame)
    reach = float(np.sqrt((displacement * displacement).sum(axis=1).max()))
    return reach if np.isfinite(reach) else 0.0


def _jitters(context: CheckContext, frames: list[int]) -> bool:
    """Whether UVs move back and forth, judged by two successive steps in the middle of the sequence.

    The result is False if no two of the frames whose UVs moved are neighbours, or if the number of UVs changes in the
    two steps.
    """
    pairs = [last for before, last in pairwise(frames) if last - before == 1]
    if not pairs:
        return False
    last = pairs[len(pairs) // 2]
    before, middle, after = (context.frame(index).uvs[:, :2] for index in (last - 2, last - 1, last))
    if not before.shape == middle.shape == after.shape:
        return False
    first, second = middle - before, after - middle
    size = np.sqrt(float((first * first).sum()) * float((second * second).sum()))
    return bool(size > 0.0 and float((first * second).sum()) / size < SWIM_SMOOTH.value)


CHECK = Check(
    id="uv-swimming",
    title="UVs swim",
    severity=Severity.WARNING,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="The faces stay the same, but the UVs of most frames differ from those of the previous frame.",
        after_import="The texture slides over the surface, which is correct if the UVs are animated. If the UVs move "
        "back and forth, the texture shimmers.",
        what_to_do="If no animated texture is intended, a modifier probably lays out the UVs again on every frame. "
        "Freeze the UVs in the scene, or restore them from the reference frame.",
    ),
    run=run,
    fixes=("uv-restore",),
    scope=CheckScope.SEQUENCE,
    thresholds=(SWIM_SMOOTH, limits.UV_DIFFERENCE),
)
