"""Frames with more or fewer vertices than the reference frame."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.counts import count_findings
from inspector.checks.base.finding import Finding, Severity


def run(context: CheckContext) -> Iterator[Finding]:
    yield from count_findings(context, CHECK, "vertex", lambda facts: facts.vertices)


CHECK = Check(
    id="vertex-count",
    title="Vertex count changes",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="A frame has more or fewer vertices than the reference frame.",
        after_import="Points no longer correspond from frame to frame: motion blur breaks, and the surface tears.",
        what_to_do="Look for a modifier that changes the mesh over time, and export these frames again. Or let the fix "
        "`fill-frames` estimate single frames from their neighbours.",
    ),
    run=run,
    fixes=("fill-frames",),
)
