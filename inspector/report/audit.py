"""Describe the verification of a delivery, as text and as a JSON document."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.finding import Severity
from inspector.delivery.audit import Audit
from inspector.inspection.inspection import FolderInspection
from inspector.names import Name, counted, safe
from inspector.report.document import Json, finding_json, head, verdict
from inspector.report.text import verdict_text
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME

_SHOWN = 20


def audit_text(audit: Audit, style: TextStyle) -> str:
    receipt = audit.receipt
    lines = style.wrap(f"{Name.from_path(audit.after.root)}, delivered by meshqc {safe(receipt.version)}")
    lines += style.wrap(_whole(audit), "files:    ")
    for title, paths in _differences(audit).items():
        lines += style.wrap(", ".join(_names(paths)), f"{title}: ".ljust(10))
    for sequence, finding in audit.new:
        lines += style.wrap(f"{finding.check} in {safe(sequence)}: {finding.message}", "new:      ")
    found = counted(len(audit.new), "new error or warning", "new errors and warnings") if audit.new else "nothing new"
    if audit.after.inspections:
        lines += style.wrap(f"{found}; result of all checks: {verdict_text(audit.after)}", "findings: ")
    else:
        unchecked = "no check ran, because the delivery contains no numbered frames; meshqc unpack writes them"
        lines += style.wrap(unchecked, "findings: ")
    if audit.proven:
        left = left_words(audit.after)
        outcome = f"verified: this is what was delivered{f', with {left} remaining' if left else ''}"
    elif _differences(audit):
        outcome = "NOT VERIFIED: this is not what was delivered"
    else:
        outcome = "NOT VERIFIED: the files are what was delivered, but the checks report new findings"
    return "\n".join([*lines, *style.wrap(outcome, "verdict: ")]) + "\n"


def audit_document(audit: Audit) -> Json:
    """Convert the verification to a JSON document, with surrogate escapes for bytes that are not UTF-8."""
    return {
        **head(),
        "folder": Name.from_path(audit.after.root).text,
        "verified": audit.proven,
        "delivered_by": audit.receipt.version,
        "files": len(audit.receipt.files),
        **{title: list(paths) for title, paths in _differences(audit, every=True).items()},
        "new": [{"sequence": sequence, **finding_json(finding)} for sequence, finding in audit.new],
        "verdict": verdict(audit.after),
    }


def _whole(audit: Audit) -> str:
    files = audit.receipt.files
    whole = len(files.keys() - {*audit.changed, *audit.missing})
    return f"{whole:,} of {counted(len(files), 'file')} {'matches' if whole == 1 else 'match'} {RECEIPT_NAME}"


def left_words(after: FolderInspection) -> str:
    """State how many errors and warnings a delivery has, as in `2 errors and 1 warning`; "" if it has none."""
    counts = [(after.count(severity), severity.word) for severity in (Severity.ERROR, Severity.WARNING)]
    return " and ".join(counted(count, word) for count, word in counts if count)


def _differences(audit: Audit, every: bool = False) -> dict[str, tuple[str, ...]]:
    """Return the paths that differ, by kind of difference. Include kinds without paths only if `every` is set."""
    kinds = {name: getattr(audit, name) for name in ("changed", "missing", "extra", "disputed")}
    return {name: paths for name, paths in kinds.items() if paths or every}


def _names(paths: tuple[str, ...]) -> Iterator[str]:
    yield from (safe(path) for path in paths[:_SHOWN])
    if len(paths) > _SHOWN:
        yield f"and {len(paths) - _SHOWN:,} more"
