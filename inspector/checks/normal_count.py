"""A number of normals that changes over a stable surface."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.evidence import Evidence
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts
from inspector.checks.base.other_topology import same_surface
from inspector.formats.format import Trait


def run(evidence: Evidence) -> Iterator[Finding]:
    base_facts(evidence)
    facts = evidence.series.facts
    frames = [index for index in same_surface(evidence) if facts[index].normals]
    if not frames:
        raise NotApplicable("no frame has normals")
    counts = [facts[index].normals for index in frames]
    if min(counts) == max(counts):
        return
    yield Finding(
        CHECK.id,
        Severity.INFO,
        f"{min(counts):,} to {max(counts):,} normals on a surface that stays: equal ones were merged when writing",
        evidence.numbers(frames),
        numbers={"least": min(counts), "most": max(counts)},
    )


CHECK = Check(
    id="normal-count",
    title="Number of normals changes",
    severity=Severity.INFO,
    needs=(Trait.NORMALS,),
    rationale=Rationale(
        what="The faces stay, but frames list different numbers of normals. Many writers keep equal normals only once.",
        after_import="Nothing, as a rule: each corner still finds its normal. Only tools that compare files line by "
        "line see other faces.",
        what_to_do="Nothing. It is noted so that nobody takes changed face lines for a changed mesh.",
    ),
    run=run,
)
