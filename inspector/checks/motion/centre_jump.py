"""Frames whose place jumps."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from inspector import limits
from inspector.checks.base.check import Check, Rationale, Scope
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files
from inspector.checks.base.jumps import find_jumps, rows_with
from inspector.checks.base.pace import dropped_before
from inspector.checks.base.steps import Jumps
from inspector.checks.motion.size_jump import size_jumps
from inspector.sequence.series import Series


def run(context: CheckContext) -> Iterator[Finding]:
    series = context.series
    rows, jumps = centre_jumps(series, context.limit("JUMP_DIAGONALS"))
    size_rows, sizes = size_jumps(series)
    # A frame that changed size about another point moves its centre too: one cause, said by the other check.
    told = {size_rows[hit] for hit in (*sizes.outliers, *sizes.breaks)}
    # A step that goes on as before, only several steps far, is one of dropped frames.
    told |= dropped_before(series).keys()
    for kind, found in (("outlier", jumps.outliers), ("break", jumps.breaks)):
        hits = [hit for hit in found if rows[hit] not in told]
        if not hits:
            continue
        indices = [rows[hit] for hit in hits]
        way = math.dist(series.centres[indices[0]], series.centres[rows[hits[0] - 1]])  # without end beyond float64
        diagonals = way / float(series.diagonals[series.reference_index or 0])
        extent = "and comes back" if kind == "outlier" else "and stays there"
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"the centre jumps by {way:.4g} units ({diagonals:.2g} diagonals) {extent}",
            context.numbers(indices),
            files(context, indices),
            {"kind": kind, "way": way, "diagonals": diagonals},
            CHECK.fixes if kind == "outlier" else (),
        )


def centre_jumps(series: Series, least: float = limits.JUMP_DIAGONALS) -> tuple[list[int], Jumps]:
    """Frame indices that have a place, and where in them it jumps by `least` diagonals or more."""
    rows = rows_with(series, np.isfinite(series.diagonals))
    if series.reference_index is None or not series.diagonals[series.reference_index] > 0:
        return rows, Jumps()
    smallest = least * float(series.diagonals[series.reference_index])
    return rows, find_jumps(series.centres[rows], series.times[rows], smallest)


CHECK = Check(
    id="centre-jump",
    title="Centre jump",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The object is suddenly somewhere else, out of line with the motion around it.",
        after_import="The object flashes up in another place for a frame, or jumps and stays there.",
        what_to_do="Look at the frame. A single one can be brought to its neighbours' place; a jump that stays "
        "may be a cut, or two exports that were mixed.",
    ),
    run=run,
    fixes=("align-outlier",),
    scope=Scope.SEQUENCE,
    thresholds=("JUMP_DIAGONALS", "JUMP_FACTOR", "JUMP_WINDOW", "JUMP_UNDONE", "JUMPS_OF_A_POSE_SET"),
    settable=("JUMP_DIAGONALS",),
)
