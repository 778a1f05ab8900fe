"""Make checks that report nothing but the problems that the file reader noted."""

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
    fixes_of: Mapping[str, tuple[str, ...]] | None = None,
    thresholds: tuple[Threshold[object], ...] = (),
    needs: tuple[Trait, ...] = (),
    affected_faces: Elements | None = None,
    explained_by: tuple[str, ...] = (),
) -> Check:
    """Make a check that reports one finding for each kind of problem that the reader noted.

    Args:
        id: Id of the check.
        title: Short name for lists.
        kinds: Severity for each kind of problem (a key of problems.KINDS).
        rationale: The explanation that `meshqc explain` shows.
        fixes: Ids of the fixes for the findings.
        element: Name of the elements in the locations, such as "face"; None if the locations state only line numbers.
        unless: A different kind of problem. Frames with a problem of this kind are left out, because another check
            reports them.
        fixes_of: Ids of the fixes for particular kinds of problems, used instead of `fixes`.
        thresholds: The limits that decide which problems the reader notes.
        needs: The kinds of content that the check judges (see `Check`).
        affected_faces: Function that finds all faces with the problem in one frame.
        explained_by: Ids of checks whose findings may explain the findings of this check (see `Check`).
    """

    def run(context: CheckContext) -> Iterator[Finding]:
        for kind, severity in kinds.items():
            answers = (fixes_of or {}).get(kind, fixes)
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
