"""Counts that should stay: one finding over all frames that differ from the reference."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from inspector.checks.base.check import Check
from inspector.checks.base.evidence import Evidence
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files, usable, usable_where
from inspector.sequence.facts import FrameFacts


def count_findings(
    evidence: Evidence, check: Check, thing: str, count: Callable[[FrameFacts], int]
) -> Iterator[Finding]:
    """Frames whose count differs. Where nearly every frame has a count of its own, that is how the mesh is made (a
    simulation): a warning, and no frame is to blame."""
    base = count(evidence.series.base)
    other = usable_where(evidence, lambda facts: count(facts) != base)
    if not other:
        return
    facts = evidence.series.facts
    first = count(facts[other[0]])
    throughout = len({count(facts[index]) for index in usable(evidence)}) > len(usable(evidence)) / 2 > 1
    message = f"{first:,} {thing} where the reference has {base:,}"
    if throughout:
        message = f"the number of {thing} changes throughout, as a simulation's does ({base:,} in the reference)"
    yield Finding(
        check.id,
        Severity.WARNING if throughout else Severity.ERROR,
        message,
        evidence.numbers(other),
        files(evidence, other),
        {"reference": base, "found": first},
        () if throughout else check.fixes,
    )
