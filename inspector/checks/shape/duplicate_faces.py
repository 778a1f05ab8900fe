"""Faces that have the same vertices as an earlier face, except faces that point in the opposite direction."""

from __future__ import annotations

from inspector.arrays import Indices
from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.surface.connections import same_corners


def _repeats(frame: Frame, _: Frame | None) -> Indices:
    """Return the faces that have the same vertices as an earlier face, unless the vertices are in reverse order.

    The result contains ascending zero-based indices, (k,).
    """
    return same_corners(frame.corners)[0]


CHECK = note_check(
    id="duplicate-faces",
    title="Duplicate faces",
    kinds={"duplicate-face": Severity.WARNING},
    rationale=Rationale(
        what="Two faces have exactly the same vertices.",
        after_import="The two faces compete for the same pixels and flicker. Glass and shadows are twice as dense.",
        what_to_do="In the scene, delete the same duplicate faces on all frames. Or use the fix, which deletes "
        "duplicate faces from the files.",
    ),
    element="face",
    fixes=("drop-duplicate-faces",),
    needs=(Trait.SHARED,),
    affected_faces=_repeats,
)
