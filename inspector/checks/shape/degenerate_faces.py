"""Faces with fewer than three corners."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check

CHECK = note_check(
    id="degenerate-faces",
    title="Faces with fewer than three corners",
    kinds={"degenerate-face": Severity.ERROR},
    rationale=Rationale(
        what="A face has fewer than three corners.",
        after_import="Many readers stop there; others drop the face, and all face numbers after it shift.",
        what_to_do="Clean the mesh in the scene (loose edges written as faces) and export again.",
    ),
    fixes=("drop-degenerate-faces",),
    element="face",
)
