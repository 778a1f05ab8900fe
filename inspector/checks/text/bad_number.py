"""Numbers that are none."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import problem_findings


def run(context: CheckContext) -> Iterator[Finding]:
    kinds = ("bad-number", "decimal-comma", "few-numbers")
    yield from problem_findings(context, CHECK.id, kinds, Severity.ERROR, CHECK.fixes)


CHECK = Check(
    id="bad-number",
    title="Bad number",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="A coordinate is not a finite decimal number: nan, inf, a decimal comma, or a piece of text.",
        after_import="A vertex flies to the origin or to infinity, or the import drops the whole frame.",
        what_to_do="Export the frame again (often a simulation blew up, or the system writes decimal commas). "
        "Or fill the frame from its neighbours.",
    ),
    run=run,
    fixes=("decimal-commas", "fill-frames"),
)
