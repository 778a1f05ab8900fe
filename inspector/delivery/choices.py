"""What is wanted of a folder: fixes that somebody chose, and those that answer what was found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from inspector.checks.base.finding import Finding, Severity
from inspector.fixes.base.assets import is_misplaced
from inspector.fixes.base.fix import FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection, Inspection


@dataclass(frozen=True)
class Choice:
    """A fix that somebody wants.

    sequence: key of one sequence (see sequence_key), None for all. frames: numbers in the source, None for those that
    the findings name, or, where none names this fix, all that it can be applied to. asked: chosen by name, so
    that a refusal stops the plan; otherwise the refusal is kept in it.
    """

    fix: str
    parameters: Mapping[str, object] = field(default_factory=dict)
    sequence: str | None = None
    frames: tuple[Fraction, ...] | None = None
    asked: bool = True


@dataclass(frozen=True, slots=True)
class Refused:
    """A fix that would be a guess for these frames, and why."""

    fix: str
    frames: tuple[Fraction, ...]
    reason: str


def sequence_key(inspection: Inspection) -> str:
    """What names the inspected sequence inside its folder."""
    return inspection.sequence.key


def lossless_choices(inspection: FolderInspection) -> tuple[Choice, ...]:
    """Every lossless fix that answers an error or a warning."""
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
    if any(is_misplaced(use.target, one.context) for i in range(len(facts)) for use in one.context.materials(i).maps):
        yield "collect-textures"
