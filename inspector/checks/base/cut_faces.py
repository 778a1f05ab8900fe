"""Make checks of faces whose appearance depends on how a reader cuts them into triangles."""

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
    "Smallest change in the number of concave or non-planar faces between frames, as a share of all faces, that "
    "causes a warning. In any healthy motion, a few faces in creases become concave or non-planar for a while (common "
    "practice, no source).",
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
    """Make a check of one kind of face whose appearance depends on how a reader cuts it into triangles.

    The finding is a warning if the number of such faces changes by more than FLIP_SHARE of the reference's faces,
    because cuts that flip between frames would then be visible. Otherwise it is a note.

    Args:
        id: Id of the check.
        title: A short name for lists.
        kind: The kind of faces (a key of problems.KINDS).
        words: The words of the message after the number of faces.
        rationale: The explanation that `meshqc explain` shows.
        thresholds: The limits that decide which faces are of this kind.
        affected_faces: Finds these faces in a frame.
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
        how = f"; {change:,} more on some frames than on others, so the cuts into triangles may flip" if change else ""
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
