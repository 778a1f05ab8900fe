"""Make checks for faces whose appearance depends on how a reader triangulates them."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Elements, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.faults import fault_finding, faults, varies
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts
from inspector.checks.base.topology_changes import sound_surface
from inspector.formats.format import Trait
from inspector.threshold import Threshold

FLIP_SHARE = Threshold(
    "flip-share",
    0.01,
    "If the number of concave or non-planar faces changes between frames by more than this share of all faces, the "
    "finding is a warning. Smaller changes are usual, because even in correct motion, a few faces in creases become "
    "concave or non-planar for a while (common practice, no source).",
    "of the faces",
)


def cut_check(
    id: str,
    title: str,
    kind: str,
    words: str,
    rationale: Rationale,
    thresholds: tuple[Threshold[object], ...],
    affected_faces: Elements,
) -> Check:
    """Make a check for one kind of face whose appearance depends on how a reader triangulates it.

    The finding is a warning, rather than a note, if the number of such faces changes by more than FLIP_SHARE of the
    reference frame's faces, because triangles may flip visibly between frames.

    Args:
        id: Id of the check.
        title: Short name for lists.
        kind: Kind of the faces, a key of problems.KINDS.
        words: Text of the message after the number of faces.
        rationale: The explanation that `meshqc explain` shows.
        thresholds: The limits that decide which faces are of this kind.
        affected_faces: Function that finds these faces in a frame.
    """

    def run(context: CheckContext) -> Iterator[Finding]:
        base = base_facts(context)
        if not base.faces:
            raise NotApplicable("there are no faces")
        frames = context.unexplained(sound_surface(context))
        met = faults(context, kind, frames)
        if not met:
            return
        change = varies(context, kind, frames)
        many = change > FLIP_SHARE.value * base.faces
        how = (
            f"; the number differs by up to {change:,} between frames, so the triangulation may change"
            if change
            else ""
        )
        yield fault_finding(context, id, Severity.WARNING if many else Severity.NOTE, met, f"{words}{how}")

    return Check(
        id,
        title,
        Severity.WARNING,
        rationale,
        run,
        thresholds=thresholds,
        needs=(Trait.POLYGONS,),
        affected_faces=affected_faces,
        explained_by=("noisy-frame", "pop", "spike"),
    )
