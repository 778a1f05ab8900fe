"""Forms of text that are legal or common, and that other readers stumble over."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.evidence import Evidence
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import problem_findings

_SEVERITY = {
    "mixed-corners": Severity.ERROR,
    "short-face": Severity.ERROR,
    "vn-index-range": Severity.WARNING,
    "empty-slot": Severity.WARNING,
    "partial-extras": Severity.WARNING,
    "superseded": Severity.WARNING,
    "not-polygonal": Severity.WARNING,
    "unknown-statement": Severity.WARNING,
    "acting-statement": Severity.WARNING,
    "byte-order-mark": Severity.WARNING,
    "wide-text": Severity.WARNING,
    "bare-returns": Severity.WARNING,
    "mixed-newlines": Severity.WARNING,
    "comment-behind-data": Severity.WARNING,
    "many-corners": Severity.WARNING,
    "relative-index": Severity.INFO,
    "continued-line": Severity.INFO,
    "no-final-newline": Severity.INFO,
}


def run(evidence: Evidence) -> Iterator[Finding]:
    for kind, severity in _SEVERITY.items():
        yield from problem_findings(evidence, CHECK.id, (kind,), severity)


CHECK = Check(
    id="text-form",
    title="Unusual text form",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="The file is written in a form that this tool reads, but that is illegal or rare.",
        after_import="Depends on the reader: lost names, lost faces, or an import that refuses the file.",
        what_to_do="If the import shows it, export with plain settings: polygons only, no comments behind data, "
        "ASCII or UTF-8 without a mark.",
    ),
    run=run,
)
