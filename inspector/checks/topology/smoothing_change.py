"""Smoothing groups that differ between frames."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, these_frames
from inspector.checks.base.topology_changes import same_surface
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    if not base.faces:
        raise NotApplicable("there are no faces")
    others = [index for index in same_surface(context) if context.series.facts[index].smoothing != base.smoothing]
    if not others:
        return
    first = context.series.facts[others[0]]
    if not base.smoothing:
        message = f"smoothing is on in {these_frames(others)}, but off in the reference frame"
    elif not first.smoothing:
        message = f"smoothing is off in {these_frames(others)}, but on in the reference frame"
    else:
        message = "faces are not in the same smoothing groups as in the reference frame"
    yield Finding(
        CHECK.id, Severity.WARNING, message, context.numbers(others), files(context, others), {"frames": len(others)}
    )


CHECK = Check(
    id="smoothing-change",
    title="Smoothing groups change",
    severity=Severity.WARNING,
    needs=(Trait.GROUPS,),
    rationale=Rationale(
        what="Smoothing groups (s statements) determine between which faces the shading is smooth. On these frames, "
        "they differ from the reference frame's.",
        after_import="If the reader computes its own normals, edges that are sharp on one frame are smooth on the "
        "next. If the files have normals, the change is hardly visible.",
        what_to_do="Set the smoothing groups once on the static model, before the model is animated, and export these "
        "frames again.",
    ),
    run=run,
)
