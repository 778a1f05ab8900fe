"""Pairs of faces that have the same vertices but point in opposite directions."""

from __future__ import annotations

from inspector.arrays import Indices
from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.surface.connections import same_corners


def _later_of_each_two(frame: Frame, _: Frame | None) -> Indices:
    """Return the faces that have the same vertices as an earlier face, but in reverse order.

    The result contains ascending zero-based indices, (k,).
    """
    return same_corners(frame.corners)[1]


CHECK = note_check(
    id="coincident-faces",
    title="Faces back to back",
    kinds={"coincident-face": Severity.WARNING},
    rationale=Rationale(
        what="Two faces have the same vertices but point in opposite directions. Such pairs are sometimes modelled to "
        "make both sides of a sheet visible.",
        after_import="The two faces compete for the same pixels and flicker. Smoothed normals cancel each other out, "
        "so the surface turns black.",
        what_to_do="In the scene, delete the same face of each pair on all frames, and set the material to show both "
        "sides. Or use the fix `drop-duplicate-faces`, which keeps the first face of each pair.",
    ),
    element="face",
    fixes=("drop-duplicate-faces",),
    needs=(Trait.SHARED,),
    affected_faces=_later_of_each_two,
    explained_by=("changed-faces",),  # with a different triangulation, a few faces may fold over their neighbours
)
