"""Sequences in which the number of normals changes although the faces stay the same."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, range_of
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
        f"{range_of(counts, 'normal')} for the same faces, probably because equal normals are written only once",
        context.numbers(frames),
        numbers={"least": min(counts), "most": max(counts)},
    )


CHECK = Check(
    id="normal-count",
    title="Number of normals changes",
    severity=Severity.NOTE,
    needs=(Trait.NORMALS,),
    rationale=Rationale(
        what="The faces stay the same, but the number of normals differs between frames. Many exporters write equal "
        "normals only once.",
        after_import="Usually, nothing: each corner still has its normal. Only tools that compare files line by line "
        "report that the face lines differ.",
        what_to_do="No change is needed. The finding explains why the face lines differ between frames although the "
        "mesh doesn't change.",
    ),
    run=run,
)
