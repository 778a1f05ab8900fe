"""The fixes that answer what was found."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.finding import Finding, Severity
from inspector.delivery.types import Choice, sequence_key
from inspector.fixes.base.fix import FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.fixes.materials.collect_textures import wants_bringing
from inspector.inspection.inspection import FolderInspection, Inspection


def lossless_choices(inspection: FolderInspection) -> tuple[Choice, ...]:
    """Every exact fix that answers an error or a warning."""
    return tuple(choice for choice in all_choices(inspection) if fix_by_id(choice.fix).kind is FixKind.LOSSLESS)


def all_choices(inspection: FolderInspection) -> tuple[Choice, ...]:
    """Every fix that answers an error or a warning, with its defaults.

    Textures outside the folder are brought along as well: without them the corrected folder would not be complete.
    """
    return tuple(
        Choice(fix, sequence=sequence_key(one), asked=False)
        for one in inspection.inspections
        for fix in dict.fromkeys(_fixes(one))
    )


def serious(inspection: Inspection) -> tuple[Finding, ...]:
    """Errors and warnings; these alone are answered by fixes."""
    return tuple(finding for finding in inspection.findings if finding.severity >= Severity.WARNING)


def _fixes(one: Inspection) -> Iterator[str]:
    for finding in serious(one):
        yield from finding.fixes
    facts = one.series.facts
    if any(wants_bringing(use.target, one.context) for i in range(len(facts)) for use in one.context.materials(i).maps):
        yield "collect-textures"
