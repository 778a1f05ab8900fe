"""Sequences that consist of points without faces."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, usable, usable_where


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    # free-form reports elements of other kinds, and face-count reports single frames without faces.
    bare = usable_where(context, lambda facts: not facts.faces and facts.problem("not-polygonal") is None)
    if not bare or len(bare) < len(usable(context)):
        return
    yield Finding(
        CHECK.id,
        Severity.NOTE,
        "points only: no frame has a face",
        context.numbers(bare),
        numbers={"vertices": context.series.reference_facts.vertices},
    )


CHECK = Check(
    id="no-faces",
    title="Points without faces",
    severity=Severity.NOTE,
    rationale=Rationale(
        what="The files list vertices but no faces, as in a point cloud.",
        after_import="Readers that support only polygons show nothing. Readers that support points show the point "
        "cloud.",
        what_to_do="If a point cloud is intended, import it as points. Otherwise, the export lost the faces, so export "
        "again.",
    ),
    run=run,
)
