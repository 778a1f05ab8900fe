"""Frames whose size jumps."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale, Scope
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files
from inspector.checks.base.jumps import JUMP_SIZE, JUMP_UNDONE, size_jumps
from inspector.checks.base.sizes import unit_factor, units_of
from inspector.checks.base.steps import JUMP_FACTOR, JUMP_WINDOW, JUMPS_OF_A_POSE_SET
from inspector.threshold import Threshold

SAME_FACTOR = Threshold(
    "same-factor",
    1.03,
    "Ratio by which a jump of the size may miss a factor between units to be called that: one step of the motion "
    "itself changes the size as well (common practice, no source).",
)


def run(context: CheckContext) -> Iterator[Finding]:
    rows, jumps = size_jumps(context, context.limit(JUMP_SIZE))
    for kind, hits in (("outlier", jumps.outliers), ("break", jumps.breaks)):
        if not hits:
            continue
        indices = [rows[hit] for hit in hits]
        before = context.series.diagonals[rows[hits[0] - 1]]
        ratio = float(context.series.diagonals[indices[0]] / before)
        extent = "and comes back" if kind == "outlier" else "and stays so"
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"the size jumps to {ratio:.3g} times the frame before{_units(ratio)}, {extent}",
            context.numbers(indices),
            files(context, indices),
            {"kind": kind, "ratio": ratio},
            CHECK.fixes if kind == "outlier" else (),
        )


def _units(ratio: float) -> str:
    factor = unit_factor(ratio, SAME_FACTOR.value)
    return "" if factor is None else f" (as between {units_of(factor)})"


CHECK = Check(
    id="size-jump",
    title="Size jump",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The size of the object jumps from one frame to the next, out of line with the motion around it.",
        after_import="The object pops larger or smaller, for a frame or from there on.",
        what_to_do="Look at the frame. A single one can be brought to its neighbours' place and size; "
        "a jump that stays means that two exports were mixed: export again.",
    ),
    run=run,
    fixes=("align-outlier",),
    scope=Scope.SEQUENCE,
    thresholds=(JUMP_SIZE, SAME_FACTOR, JUMP_FACTOR, JUMP_WINDOW, JUMP_UNDONE, JUMPS_OF_A_POSE_SET),
)
