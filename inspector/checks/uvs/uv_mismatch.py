"""UV indices that differ from the reference frame's."""

from __future__ import annotations

from collections.abc import Iterator

from inspector import limits
from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import with_other_uvs
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import base_with_uvs, part_of, same_faces
from inspector.checks.base.uv_compare import UvDifference, compare_uvs
from inspector.formats.element_lines import face_line
from inspector.formats.format import Trait

_WORDS = {
    "renumbered": "the UV indices differ from the reference frame's, but the coordinates at every corner are the same",
    "shifted": "every UV index is off by {shift:+d}",
    "reassigned": "the UVs of {faces} differ from the reference frame's",
    "seams": "the UV seams on {faces} differ from the reference frame's",
}
_FIXES = {"renumbered": (), "shifted": ("uv-shift-back", "uv-restore")}


def run(context: CheckContext) -> Iterator[Finding]:
    facts, base = context.series.facts, base_with_uvs(context)
    alike: dict[tuple[bytes, bytes], list[int]] = {}
    for index in same_faces(context):
        if facts[index].uv_indices != base.uv_indices:
            alike.setdefault((facts[index].uv_indices, facts[index].uv_values), []).append(index)
    by_kind: dict[tuple[str, int], list[tuple[UvDifference, list[int], Where]]] = {}
    for indices in alike.values():  # each distinct set of UVs is compared once, even if many frames have it
        frame = context.frame(indices[0])
        difference = compare_uvs(context.reference_frame, frame)
        face = int(difference.faces[0]) if len(difference.faces) else 0
        where = Where(context.file_name(indices[0]), face_line(frame, face), f"face {face + 1}")
        by_kind.setdefault((difference.kind, difference.shift), []).append((difference, indices, where))
    for (kind, shift), group in by_kind.items():
        yield _finding(context, kind, shift, group)


def _finding(
    context: CheckContext, kind: str, shift: int, group: list[tuple[UvDifference, list[int], Where]]
) -> Finding:
    faces = max(len(difference.faces) for difference, _, _ in group)
    words = _WORDS[kind].format(shift=shift, faces=part_of(faces, context.series.reference_facts.faces, "face"))
    return Finding(
        CHECK.id,
        Severity.NOTE if kind == "renumbered" else Severity.ERROR,
        words,
        context.numbers(sorted(index for _, indices, _ in group for index in indices)),
        tuple(where for _, _, where in group[: limits.PLACES_KEPT]),
        {
            "kind": kind,
            "faces": faces,
            "corners": max(difference.corners for difference, _, _ in group),
            "shift": shift,
        },
        _FIXES.get(kind, ("uv-restore",)),
    )


CHECK = Check(
    id="uv-mismatch",
    title="UV index mismatch",
    severity=Severity.ERROR,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="The faces are the same as in the reference frame, but their corners use different UV indices.",
        after_import="The texture jumps or is scrambled on these frames, most visibly in lettering.",
        what_to_do="If all indices are off by the same amount, use the fix `uv-shift-back`. Otherwise, use the fix "
        "`uv-restore`, which restores the UVs from the reference frame. Different indices with the same coordinates "
        "are harmless.",
    ),
    run=run,
    fixes=("uv-shift-back", "uv-restore"),
    thresholds=(limits.UV_DIFFERENCE,),
    affected_faces=with_other_uvs,
)
