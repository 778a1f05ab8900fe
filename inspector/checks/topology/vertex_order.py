"""Frames with as many vertices as the reference frame, but in a different order."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_change import ORDER_FACTOR
from inspector.checks.base.face_sets import with_other_corners
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files
from inspector.checks.base.topology_changes import ORDER, changed_places, exploded_frames, reported_by


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    moved = reported_by(context, ORDER)
    if moved:
        most = max(change.count for change in moved.values())
        how = f"{most:,} of {base.vertices:,} vertices" if most else "vertices and faces"
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            f"{how} are in a different order than in the reference frame; the surface is the same",
            context.numbers(list(moved)),
            changed_places(context, moved),
            {"kind": "faces follow", "vertices": most},
            CHECK.fixes,
        )
    exploded = context.unexplained(exploded_frames(context))
    if exploded:
        facts = context.series.facts
        usual = min(one.edge_length for one in facts if one.topology == base.topology and one.edge_length > 0.0)
        factor = max(facts[index].edge_length for index in exploded) / usual
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            "vertices are in a different order, but the faces still name the old indices: edges are up to "
            f"{factor:,.1f} times as long, although the box has the same size",
            context.numbers(exploded),
            files(context, exploded),
            {"kind": "faces stay", "factor": factor},
            CHECK.fixes,
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
        "fix fill-frames estimate single frames from their neighbours.",
    ),
    run=run,
    fixes=("restore-order", "fill-frames"),
    scope=CheckScope.SEQUENCE,
    explained_by=("noisy-frame",),
    thresholds=(ORDER_FACTOR,),
    affected_faces=with_other_corners,
)
