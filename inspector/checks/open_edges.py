"""Edges that are open, or shared by too many faces, in some frames only."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.counts import changes_throughout
from inspector.checks.base.evidence import Evidence
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, usable_where
from inspector.checks.base.other_topology import EDGES, edge_counts, told_by, whole_indices
from inspector.formats.format import Trait
from inspector.sequence.facts import FrameFacts


def run(evidence: Evidence) -> Iterator[Finding]:
    base = base_facts(evidence)
    if not base.faces:
        raise NotApplicable("there are no faces")
    if any(changes_throughout(evidence, count) for count in (lambda facts: facts.faces, lambda facts: facts.vertices)):
        raise NotApplicable("the mesh changes throughout, as a simulation's does")

    def split(facts: FrameFacts) -> bool:
        """Vertices parted or merged: as many faces on another number of vertices. Lost faces leave edges open too."""
        joined = facts.faces == base.faces and facts.vertices != base.vertices and facts.pieces == base.pieces
        return joined and edge_counts(facts) != edge_counts(base) and whole_indices(facts)

    frames = sorted({*usable_where(evidence, split), *told_by(evidence, EDGES)})
    if not frames:
        return
    facts = evidence.series.facts[frames[0]]
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        f"{_words(facts)}, where the reference has {_words(base)}",
        evidence.numbers(frames),
        files(evidence, frames),
        {
            "open": facts.open_edges,
            "crowded": facts.crowded_edges,
            "reference_open": base.open_edges,
            "reference_crowded": base.crowded_edges,
        },
        CHECK.fixes,
    )


def _words(facts: FrameFacts) -> str:
    return f"{facts.open_edges:,} open edges and {facts.crowded_edges:,} of three or more faces"


CHECK = Check(
    id="open-edges",
    title="Open edges change",
    severity=Severity.ERROR,
    needs=(Trait.SHARED,),
    rationale=Rationale(
        what="An edge with one face is open, one with three or more makes no clean surface. Either is fine where it is "
        "meant, as at the rim of a sheet; here their number differs from the reference's.",
        after_import="A slit opens along a seam, or a fold appears, on these frames; smooth shading breaks there.",
        what_to_do="Look for welding, mirroring or splitting of vertices that works on some frames only, apply it once "
        "to the still model, and export again.",
    ),
    run=run,
    fixes=("fill-frames",),
)
