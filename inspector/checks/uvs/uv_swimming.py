"""UVs that move from frame to frame through the whole sequence."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from inspector import limits
from inspector.checks.base.check import Check, Rationale, Scope
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_with_uvs, files
from inspector.checks.base.uv_compare import corner_uvs, moving_uvs
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    base_with_uvs(context)
    moving = moving_uvs(context)
    if not moving:
        return
    ways = {index: step for index in moving if (step := context.series.facts[index].uv_step)}
    reach = _reach(context, moving[-1])
    longest = max(ways.values(), default=0.0)
    if max(reach, longest) <= limits.UV_DIFFERENCE:
        return
    usual = float(np.median(list(ways.values()))) if ways else 0.0
    trembling = _trembles(context, sorted(ways))
    yield Finding(
        CHECK.id,
        Severity.WARNING if trembling else Severity.NOTE,
        f"the UVs {'tremble' if trembling else 'drift'} through the sequence: {usual:.3g} widths of the texture in a "
        f"usual step, {longest:.3g} in the longest, {reach:.3g} from the reference to the last",
        context.numbers(moving),
        files(context, moving),
        {"usual": usual, "longest": longest, "reach": reach},
        CHECK.fixes if trembling else (),
    )


@np.errstate(over="ignore", invalid="ignore")  # a way beyond what a float64 holds counts as none
def _reach(context: CheckContext, last: int) -> float:
    """The longest way of a corner's UV from the reference to a frame, in widths of the texture."""
    way = corner_uvs(context.frame(last)) - corner_uvs(context.reference_frame)
    reach = float(np.sqrt((way * way).sum(axis=1).max()))
    return reach if np.isfinite(reach) else 0.0


def _trembles(context: CheckContext, frames: list[int]) -> bool:
    """Whether UVs come back from where they went, over the two steps in a row in the middle of these frames."""
    pairs = [last for before, last in pairwise(frames) if last - before == 1]
    if not pairs:
        return False
    last = pairs[len(pairs) // 2]
    before, middle, after = (context.frame(index).uvs[:, :2] for index in (last - 2, last - 1, last))
    if not before.shape == middle.shape == after.shape:
        return False
    one, two = middle - before, after - middle
    size = np.sqrt(float((one * one).sum()) * float((two * two).sum()))
    return bool(size > 0.0 and float((one * two).sum()) / size < limits.SWIM_SMOOTH)


CHECK = Check(
    id="uv-swimming",
    title="UVs swim",
    severity=Severity.WARNING,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="The faces stay, and the UVs of most frames differ from those of the frame before.",
        after_import="The texture slides over the surface: as it should where the drift is animated; where UVs come "
        "back and forth, it shimmers.",
        what_to_do="If no animated texture is meant, a modifier that lays UVs out anew on every frame is still live: "
        "freeze the UVs in the scene, or restore them from the reference.",
    ),
    run=run,
    fixes=("uv-restore",),
    scope=Scope.SEQUENCE,
    thresholds=("SWIM_SMOOTH", "UV_DIFFERENCE"),
)
