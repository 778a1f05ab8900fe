"""Run checks on one sequence, and record findings, reasons for skipped checks, and errors of failed checks."""

from __future__ import annotations

import traceback
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from graphlib import TopologicalSorter

from inspector.checks.base.check import Check, NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.errors import MeshqcError
from inspector.formats.format import Format
from inspector.formats.registry import format_by_id
from inspector.rules.model import CheckRule


@dataclass(frozen=True, slots=True)
class Verdict:
    """The results of the checks on one sequence.

    Attributes:
        findings: Findings, sorted by severity (highest first), and then by first frame.
        skipped: Pairs of a skipped check's id and the reason.
        failed: Pairs of a failed check's id and the error.
    """

    findings: tuple[Finding, ...]
    skipped: tuple[tuple[str, str], ...]
    failed: tuple[tuple[str, str], ...]


def by_reason(pairs: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Group pairs of a check's id and a reason: reason -> ids of the checks."""
    checks: dict[str, list[str]] = {}
    for check, reason in pairs:
        checks.setdefault(reason, []).append(check)
    return checks


def run_checks(context: CheckContext, checks: Sequence[Check]) -> Verdict:
    """Run checks on one sequence, with the severities and thresholds from the delivery rules.

    A check runs after the checks that explain its findings. A check that the rules switch off is skipped. If a check
    fails, its error is recorded, and the other checks still run.

    Raises:
        CycleError: The checks explain each other in a cycle (graphlib).
    """
    findings: list[Finding] = []
    skipped: list[tuple[str, str]] = []
    failed: list[tuple[str, str]] = []
    rules = context.settings.rules
    formats = [format_by_id(name) for name in dict.fromkeys(facts.format for facts in context.series.facts)]
    for check in _explaining_first(checks):
        rule = rules.checks.get(check.id, CheckRule())
        if rule.severity == "off":
            skipped.append((check.id, f"switched off by the rules{': ' if rule.reason else ''}{rule.reason}"))
            continue
        why = rules.reason(check.id)
        explained = {number for finding in findings if finding.check in check.explained_by for number in finding.frames}
        try:
            _refuse_where_not_carried(check, formats)
            for finding in check.run(context.of_check(check.id, explained)):
                severity = _severity(finding, check, rule)
                findings.append(replace(finding, severity=severity, reason=finding.reason or why))
        except NotApplicable as reason:
            skipped.append((check.id, str(reason)))
        except MeshqcError as error:
            failed.append((check.id, str(error)))
        except Exception:
            failed.append((check.id, traceback.format_exc(limit=-3)))
    findings.sort(key=lambda finding: (-finding.severity, finding.frames[:1], finding.check))
    skipped.sort()
    failed.sort()
    return Verdict(tuple(findings), tuple(skipped), tuple(failed))


def _explaining_first(checks: Sequence[Check]) -> list[Check]:
    known = {check.id: check for check in checks}
    order = TopologicalSorter({check.id: [one for one in check.explained_by if one in known] for check in checks})
    return [known[identifier] for identifier in order.static_order()]


def _refuse_where_not_carried(check: Check, formats: Iterable[Format]) -> None:
    """Check that the format of each frame can contain everything that the check judges.

    Raises:
        NotApplicable: A format can't contain something that the check judges. The message names the format and the
            content.
    """
    for form in formats:
        missing = [trait.value for trait in check.needs if trait not in form.carries]
        if missing:
            raise NotApplicable(f"{form.title} files can't hold {' or '.join(missing)}")


def _severity(finding: Finding, check: Check, rule: CheckRule) -> Severity:
    """Return the severity of a finding under the delivery rules.

    The severity in the rules replaces the highest severity of the check. A finding with a lower severity keeps its
    severity, unless the severity in the rules is lower still.
    """
    if not rule.severity:
        return finding.severity
    wanted = Severity[rule.severity.upper()]
    return wanted if finding.severity is check.severity else min(finding.severity, wanted)
