"""Frames that list the reference frame's vertices in a different order."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_change import ORDER_FACTOR
from inspector.checks.base.face_sets import with_other_corners
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, part_of, vertex_places
from inspector.checks.base.renumbered import (
    ORDER_APART,
    ORDER_EXACT,
    ORDER_NEAR,
    ORDER_ONCE,
    ORDER_SHARE,
    renumbered_frames,
)
from inspector.checks.base.topology_changes import ORDER, changed_places, reported_by


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    moved = reported_by(context, ORDER)
    if moved:
        most = max(change.count for change in moved.values())
        how = f"{most:,} of {base.vertices:,} vertices" if most else "vertices and faces"
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            f"{how} are not in the same order as in the reference frame; the surface is the same",
            context.numbers(list(moved)),
            changed_places(context, moved),
            {"kind": "faces follow", "vertices": most},
            CHECK.fixes,
        )
    every = renumbered_frames(context)
    renumbered = {index: every[index] for index in context.unexplained(every)}
    if renumbered:
        most = max(change.vertices for change in renumbered.values())
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            f"vertices are in a different order, but the faces still use the old indices: at least "
            f"{part_of(most, base.vertices, 'vertex')} are where another vertex belongs",
            context.numbers(list(renumbered)),
            vertex_places(context, {index: change.vertex for index, change in renumbered.items()}),
            {"kind": "faces stay", "vertices": most},
            ("fill-frames",),
        )


CHECK = Check(
    id="vertex-order",
    title="Vertex order changes",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="There are as many vertices as in the reference frame, but they are listed in a different order.",
        after_import="Points change places from one frame to the next: motion blur streaks across the object, anything "
        "attached to a point jumps, or the surface bursts into spikes.",
        what_to_do="Switch on the export option that keeps the vertex order, and export these frames again. Or let the "
        "fix `fill-frames` estimate single frames from their neighbours.",
    ),
    run=run,
    fixes=("restore-order", "fill-frames"),
    scope=CheckScope.SEQUENCE,
    thresholds=(ORDER_FACTOR, ORDER_NEAR, ORDER_EXACT, ORDER_APART, ORDER_SHARE, ORDER_ONCE),
    affected_faces=with_other_corners,
)
