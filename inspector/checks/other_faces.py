"""Same counts, other faces: what no table of counts shows."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.counts import changes_throughout
from inspector.checks.base.evidence import Evidence
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, count_of
from inspector.checks.base.other_topology import OTHER, changed_places, told_by


def run(evidence: Evidence) -> Iterator[Finding]:
    base = base_facts(evidence)
    if changes_throughout(evidence, lambda facts: facts.faces):
        raise NotApplicable("the number of faces changes throughout, as a simulation's does")
    other = told_by(evidence, OTHER)
    if not other:
        return
    most = max(change.count for change in other.values())
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        f"{count_of(most, 'face')} of {base.faces:,} connect other vertices than in the reference, at equal counts",
        evidence.numbers(list(other)),
        changed_places(evidence, other),
        {"faces": most, "variants": len({evidence.series.facts[index].topology for index in other})},
        CHECK.fixes,
    )


CHECK = Check(
    id="other-faces",
    title="Same counts, other faces",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="Vertex and face counts agree with the reference, but some faces connect other vertices.",
        after_import="Creases and texture flicker on these frames; what was selected by face is elsewhere.",
        what_to_do="Triangulate once before the animation, not on export, and export again. "
        "Or fill the frame from its neighbours.",
    ),
    run=run,
    fixes=("restore-order", "restore-faces", "fill-frames"),
)
