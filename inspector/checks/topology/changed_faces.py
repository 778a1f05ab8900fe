"""Frames whose faces don't connect the same vertices as in the reference frame, although the counts are the same."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.counts import mesh_changes_throughout
from inspector.checks.base.face_sets import with_other_corners
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, part_of
from inspector.checks.base.topology_changes import OTHER, changed_places, reported_by


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    if mesh_changes_throughout(context):
        raise NotApplicable("the topology changes from frame to frame, as in a simulation")
    other = reported_by(context, OTHER)
    if not other:
        return
    counts = [change.count for change in other.values()]
    least, most = min(counts), max(counts)
    share = f"{f'{least:,} to ' if least < most else ''}{part_of(most, base.faces, 'face')}"
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        f"{share} {'connects' if most == 1 else 'connect'} different vertices from those in the reference frame, "
        "although the vertex and face counts are the same",
        context.numbers(list(other)),
        changed_places(context, other),
        {"faces": most, "least": least, "variants": len({context.series.facts[index].topology for index in other})},
        CHECK.fixes,
    )


CHECK = Check(
    id="changed-faces",
    title="Same counts, different faces",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="The vertex and face counts are the same as in the reference frame, but some faces connect different "
        "vertices.",
        after_import="Creases and textures flicker on these frames. Selections by face number apply to different "
        "faces.",
        what_to_do="Triangulate the mesh once, before it is animated, instead of during the export. Then export again. "
        "Or let the fix `fill-frames` estimate single frames from their neighbours.",
    ),
    run=run,
    fixes=("restore-order", "restore-faces", "fill-frames"),
    affected_faces=with_other_corners,
)
