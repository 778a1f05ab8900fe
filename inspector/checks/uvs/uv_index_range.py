"""Corners that name UVs which don't exist."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import without_uv
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import problem_findings
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    yield from problem_findings(
        context, CHECK.id, ("vt-index-range",), Severity.ERROR, CHECK.fixes, element="face", unless="zero-based"
    )


CHECK = Check(
    id="uv-index-range",
    title="UV index out of range",
    severity=Severity.ERROR,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="A corner names a UV number that the file doesn't have.",
        after_import="The texture is torn there, or the import drops all UVs.",
        what_to_do="Restore the UVs from a good frame of the sequence, or export again.",
    ),
    run=run,
    fixes=("uv-restore", "uv-donor"),
    affected_faces=without_uv,
)
