"""Faces or frames without normals."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import without_normal
from inspector.checks.base.faults import fault_finding, faults
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files, these_have, usable, usable_where
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    # The check normal-index-range reports indices of normals that don't exist.
    with_faces = usable_where(context, lambda facts: facts.faces > 0 and facts.problem("vn-index-range") is None)
    if not with_faces:
        raise NotApplicable("there are no faces")
    partial = faults(context, "no-normal", usable(context))
    if partial:
        words = "without normals, although other faces have them"
        yield fault_finding(context, CHECK.id, Severity.WARNING, partial, words, fixes=CHECK.fixes)
    facts = context.series.facts
    bare = [index for index in with_faces if facts[index].faces_without_normals == facts[index].faces]
    if not bare:
        return
    if len(bare) < len(with_faces):
        message, severity = f"{these_have(bare)} no normals, although other frames have them", Severity.WARNING
    elif any(facts[index].smoothing for index in bare):
        return  # smoothing groups state the intended shading
    else:
        message, severity = "no frame has normals or smoothing groups", Severity.NOTE
    yield Finding(
        CHECK.id,
        severity,
        message,
        context.numbers(bare),
        files(context, bare),
        {"kind": "none", "frames": len(bare)},
        CHECK.fixes,
    )


CHECK = Check(
    id="missing-normals",
    title="Normals missing",
    severity=Severity.WARNING,
    needs=(Trait.NORMALS,),
    rationale=Rationale(
        what="Normals are the directions of the surface at the corners of the faces. They determine where the surface "
        "looks smooth and where it has sharp edges. These faces have no normals.",
        after_import="If the reader computes its own normals, the surface may have unintended facets or smoothed "
        "edges. Some readers drop the normals of the whole mesh.",
        what_to_do="Switch on normals for all objects in the export settings. If no frame has normals, import the "
        "frames, and then give all frames the same shading, smooth or faceted. Or let the fix `recompute-normals` "
        "compute new normals for every frame.",
    ),
    run=run,
    fixes=("recompute-normals",),
    affected_faces=without_normal,
)
