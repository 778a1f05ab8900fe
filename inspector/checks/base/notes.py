"""Checks that only pass on what the reader noted in the files."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from inspector.checks.base.check import Check, Elements, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import problem_findings
from inspector.formats.format import Trait
from inspector.threshold import Threshold


def note_check(
    id: str,
    title: str,
    kinds: Mapping[str, Severity],
    rationale: Rationale,
    *,
    fixes: tuple[str, ...] = (),
    element: str | None = None,
    unless: str | None = None,
    unanswered: tuple[str, ...] = (),
    thresholds: tuple[Threshold[object], ...] = (),
    needs: tuple[Trait, ...] = (),
    affected_faces: Elements | None = None,
    explained_by: tuple[str, ...] = (),
) -> Check:
    """A check that gives one finding for each of the reader's `kinds` that frames have, with its severity.

    element: the plain word for what a place counts ("face"). unless: a kind whose own check says the same better.
    unanswered: kinds that the fixes can't answer. explained_by: see Check.
    """

    def run(context: CheckContext) -> Iterator[Finding]:
        for kind, severity in kinds.items():
            answers = () if kind in unanswered else fixes
            yield from problem_findings(context, id, (kind,), severity, answers, element, unless)

    return Check(
        id,
        title,
        max(kinds.values()),
        rationale,
        run,
        fixes,
        thresholds=thresholds,
        needs=needs,
        explained_by=explained_by,
        affected_faces=affected_faces,
    )
