"""A number of normals that changes over a stable surface."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts
from inspector.checks.base.topology_changes import same_surface
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    facts = context.series.facts
    frames = [index for index in same_surface(context) if facts[index].normals]
    if not frames:
        raise NotApplicable("no frame has normals")
    counts = [facts[index].normals for index in frames]
    if min(counts) == max(counts):
        return
    yield Finding(
        CHECK.id,
        Severity.NOTE,
        f"{min(counts):,} to {max(counts):,} normals on a surface that stays: equal ones were merged when writing",
        context.numbers(frames),
        numbers={"least": min(counts), "most": max(counts)},
    )


CHECK = Check(
    id="normal-count",
    title="Number of normals changes",
    severity=Severity.NOTE,
    needs=(Trait.NORMALS,),
    rationale=Rationale(
        what="The faces stay, but frames list different numbers of normals. Many writers keep equal normals only once.",
        after_import="Nothing, as a rule: each corner still finds its normal. Only tools that compare files line by "
        "line see other faces.",
        what_to_do="Nothing. It is noted so that nobody takes changed face lines for a changed mesh.",
    ),
    run=run,
)
