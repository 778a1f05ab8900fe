"""Frames that list the reference frame's faces in a different order."""

from __future__ import annotations

from collections.abc import Iterator

from inspector import limits
from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.counts import mesh_changes_throughout
from inspector.checks.base.face_change import changed_faces
from inspector.checks.base.face_sets import with_other_corners
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import base_facts, files
from inspector.checks.base.topology_changes import FACES, reported_by
from inspector.formats.element_lines import face_line


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    if mesh_changes_throughout(context):
        raise NotApplicable("the topology changes from frame to frame, as in a simulation")
    moved = list(reported_by(context, FACES))
    if not moved:
        return
    variants = len({context.series.facts[index].topology for index in moved})
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"the {base.faces:,} faces of the reference frame are listed in a different order",
        context.numbers(moved),
        (_first_moved(context, moved[0]), *files(context, moved[1 : limits.PLACES_KEPT])),
        {"faces": base.faces, "variants": variants},
        CHECK.fixes,
    )


def _first_moved(context: CheckContext, index: int) -> Where:
    """Return the location of the first face that differs from the reference frame's face with the same number.

    Raises:
        MeshqcError: The file of one of the two frames can't be read any more.
    """
    frame = context.frame(index)
    face = int(changed_faces(context.reference_frame, frame)[0])
    return Where(context.file_name(index), face_line(frame, face), f"face {face + 1}")


CHECK = Check(
    id="face-order",
    title="Face order changes",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Each face connects the same vertices as in the reference frame, but the faces are listed in a different "
        "order.",
        after_import="Anything that depends on face numbers, such as a selection or colours per face, jumps to other "
        "faces. If the whole mesh has only one material, the picture is not affected.",
        what_to_do="Switch on the export option that keeps the order, and export these frames again. Or use the fix "
        "`restore-faces`, which lists the faces in the reference frame's order.",
    ),
    run=run,
    fixes=("restore-faces", "fill-frames"),
    affected_faces=with_other_corners,
)
