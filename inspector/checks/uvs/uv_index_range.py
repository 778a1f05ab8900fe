"""Corners that refer to UVs that don't exist."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.face_sets import without_uv
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="uv-index-range",
    title="UV index out of range",
    kinds={"vt-index-range": Severity.ERROR},
    rationale=Rationale(
        what="A corner refers to a UV that the file doesn't have.",
        after_import="The texture is torn on these faces, or the import drops all UVs.",
        what_to_do="Restore the UVs from an intact frame of the sequence, or export again.",
    ),
    fixes=("uv-restore", "uv-donor"),
    element="face",
    unless="zero-based",
    needs=(Trait.UVS,),
    affected_faces=without_uv,
)
