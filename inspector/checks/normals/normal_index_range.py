"""Corners that refer to normals that don't exist."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.face_sets import without_normal
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="normal-index-range",
    title="Normal index out of range",
    kinds={"vn-index-range": Severity.WARNING},
    rationale=Rationale(
        what="A corner refers to a normal that the file doesn't have.",
        after_import="The shading of these faces is wrong, or the import drops all normals or fails.",
        what_to_do="Export again, or let the reader compute new normals.",
    ),
    element="face",
    unless="zero-based",
    needs=(Trait.NORMALS,),
    affected_faces=without_normal,
)
