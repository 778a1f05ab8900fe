"""Frames without any UV."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import without_uv
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files, usable, usable_where
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    with_faces = usable_where(context, lambda facts: facts.faces > 0)
    if not with_faces:
        raise NotApplicable("there are no faces")
    bare = [index for index in with_faces if _bare(context, index)]
    if not bare:
        return
    everywhere = context.series.reference_index in bare  # then no frame has any that others could be given
    unused = context.series.facts[bare[0]].uvs
    extent = "no frame has" if len(bare) == len(usable(context)) else "these frames have no"
    message = f"{extent} UVs" if not unused else f"{unused:,} UV coordinates are written, but no face uses them"
    yield Finding(
        CHECK.id,
        Severity.ERROR,
        message,
        context.numbers(bare),
        files(context, bare),
        {"frames": len(bare), "unused": unused},
        CHECK.fixes[1:] if everywhere else CHECK.fixes,
    )


def _bare(context: CheckContext, index: int) -> bool:
    facts = context.series.facts[index]
    return facts.faces_without_uvs == facts.faces and facts.problem("vt-index-range") is None


CHECK = Check(
    id="no-uvs",
    title="No UVs",
    severity=Severity.ERROR,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="No face has texture coordinates.",
        after_import="The surface shows one flat colour, or no texture at all.",
        what_to_do="Switch UVs on in the export. If the static model still has them and its faces are the same, take "
        "them from that file (--uvs-from).",
    ),
    run=run,
    fixes=("uv-restore", "uv-donor", "uv-nearest", "uv-planar"),
    affected_faces=without_uv,
)
