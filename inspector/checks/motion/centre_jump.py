"""Frames on which the object jumps to a different position."""

from __future__ import annotations

import math
from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files, in_diagonals
from inspector.checks.base.jumps import (
    JUMP_BESIDE,
    JUMP_DIAGONALS,
    JUMP_SIZE,
    JUMP_UNDONE,
    centre_jumps,
    moved_beyond_scaling,
    size_jumps,
)
from inspector.checks.base.mixed_units import mixed_units
from inspector.checks.base.steps import JUMP_FACTOR, JUMP_WINDOW, JUMPS_OF_A_POSE_SET
from inspector.names import amount


def run(context: CheckContext) -> Iterator[Finding]:
    series = context.series
    if mixed_units(context):
        raise NotApplicable("the frames are in different units")
    least = context.limit(JUMP_DIAGONALS)
    rows, jumps = centre_jumps(context, least)
    sizes, scaled = size_jumps(context, JUMP_SIZE.value)
    both = {sizes[hit] for hit in (*scaled.outliers, *scaled.breaks)}
    for kind, found in (("outlier", jumps.outliers), ("break", jumps.breaks)):
        unexplained = set(context.unexplained(rows[hit] for hit in found))
        indices = [
            rows[hit]
            for hit in found
            if rows[hit] in unexplained
            or (rows[hit] in both and moved_beyond_scaling(context, rows[hit], _beside(rows, hit, kind), least))
        ]
        if not indices:
            continue
        before = rows[rows.index(indices[0]) - 1]
        distance = math.dist(series.centres[indices[0]], series.centres[before])  # infinite beyond float64
        diagonals = distance / float(series.diagonals[series.reference_index or 0])
        extent = "and comes back" if kind == "outlier" else "and stays there"
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"the centre of the object jumps by {amount(distance, 'unit')} ({in_diagonals(diagonals)}) {extent}",
            context.numbers(indices),
            files(context, indices),
            {"kind": kind, "distance": distance, "diagonals": diagonals},
            CHECK.fixes if kind == "outlier" else (),
        )


def _beside(rows: list[int], hit: int, kind: str) -> list[int]:
    """Return the frames that a jump is compared with: the previous frame and, for an "outlier", also the next frame."""
    return rows[hit - 1 : hit + 2 : 2] if kind == "outlier" else [rows[hit - 1]]


CHECK = Check(
    id="centre-jump",
    title="Centre jump",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The object suddenly jumps to a different position. The motion before and after doesn't explain the jump.",
        after_import="After the jump, the object stays at the new position, or jumps back after one or more frames.",
        what_to_do="Look at the frame. If the object jumps back afterwards, the fix can move it to a position between "
        "the positions on the neighbouring frames. If it stays at the new position, the jump may be a cut, or the "
        "later frames may come from a different export.",
    ),
    run=run,
    fixes=("align-outlier",),
    scope=CheckScope.SEQUENCE,
    thresholds=(JUMP_DIAGONALS, JUMP_BESIDE, JUMP_FACTOR, JUMP_WINDOW, JUMP_UNDONE, JUMPS_OF_A_POSE_SET),
    # If an object is scaled about the origin or about a point inside it, its centre moves too. If a step is several
    # times as long as the others and in the direction of the motion, frames were dropped.
    explained_by=("size-jump", "dropped-frames", "swapped-frames", "winding"),
)
