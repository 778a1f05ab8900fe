"""Describe checks and fixes as JSON documents."""

from __future__ import annotations

from collections.abc import Sequence

from inspector.checks.base.check import Check
from inspector.fixes.base.fix import AnyFix, DataChange
from inspector.report.document import Json, head
from inspector.report.reference import answered_by, value_json


def table_document(checks: Sequence[Check], fixes: Sequence[AnyFix]) -> Json:
    return {**head(), "checks": [_check(one) for one in checks], "fixes": [_fix(one) for one in fixes]}


def page_document(subject: Check | AnyFix) -> Json:
    """Convert one check or fix to a JSON document. Its key in the document is `check` or `fix`."""
    return {**head(), **({"check": _check(subject)} if isinstance(subject, Check) else {"fix": _fix(subject)})}


def _check(check: Check) -> Json:
    return {
        "id": check.id,
        "title": check.title,
        "severity": check.severity.word,
        "what": check.rationale.what,
        "after_import": check.rationale.after_import,
        "what_to_do": check.rationale.what_to_do,
        "fixes": list(check.fixes),
        "thresholds": [
            {"name": one.name, "value": value_json(one.value), "unit": one.unit, "reason": one.why}
            for one in check.thresholds
        ],
        "settable": list(check.settable_names),
    }


def _fix(fix: AnyFix) -> Json:
    return {
        "id": fix.id,
        "title": fix.title,
        "kind": fix.kind.value,
        "changes": [change.value for change in DataChange if change in fix.changes],
        "effect": fix.does,
        "cost": fix.cost,
        "parameters": fix.described,
        "checks": [check.id for check in answered_by(fix)],
    }
