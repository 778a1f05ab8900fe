"""Frames with more or fewer faces than the reference frame."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.counts import count_findings
from inspector.checks.base.finding import Finding, Severity


def run(context: CheckContext) -> Iterator[Finding]:
    yield from count_findings(context, CHECK, "face", lambda facts: facts.faces)


CHECK = Check(
    id="face-count",
    title="Face count changes",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="A frame has more or fewer faces than the reference frame.",
        after_import="A hole or an extra patch appears. Textures and selections that refer to faces by number shift to "
        "other faces.",
        what_to_do="Export these frames again. Or let the fix `fill-frames` estimate single frames from their "
        "neighbours.",
    ),
    run=run,
    fixes=("restore-faces", "fill-frames"),
    explained_by=("vertex-count",),
)
