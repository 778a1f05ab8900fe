"""Frames in which connected components of the mesh appear or disappear."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.counts import mesh_changes_throughout
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, range_of, usable_where
from inspector.checks.base.topology_changes import COMPONENTS, reported_by, same_counts
from inspector.checks.base.whole_surfaces import whole_indices
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    if not base.faces:
        raise NotApplicable("there are no faces")
    if mesh_changes_throughout(context):
        raise NotApplicable("the topology changes from frame to frame, as in a simulation")
    recounted = usable_where(
        context,
        lambda facts: not same_counts(facts, base) and facts.components != base.components and whole_indices(facts),
    )
    frames = context.unexplained(sorted({*recounted, *reported_by(context, COMPONENTS)}))
    if not frames:
        return
    counts = [context.series.facts[index].components for index in frames]
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        f"{range_of(counts, 'connected component')}; the reference frame has {base.components:,}",
        context.numbers(frames),
        files(context, frames),
        {"reference": base.components, "least": min(counts), "most": max(counts)},
        CHECK.fixes,
    )


CHECK = Check(
    id="component-count",
    title="Connected components appear or vanish",
    severity=Severity.ERROR,
    needs=(Trait.SHARED,),
    rationale=Rationale(
        what="A connected component consists of faces that are connected by their edges. On these frames, the number "
        "of components differs from the reference frame's.",
        after_import="On these frames, a part of the object is missing, an extra part appears, or joined parts come "
        "apart.",
        what_to_do="Look for objects that are hidden or joined only on some frames. Export the same objects on all "
        "frames, and hide unwanted objects after the import.",
    ),
    run=run,
    fixes=("fill-frames",),
    explained_by=("vertex-count", "face-count"),
)
