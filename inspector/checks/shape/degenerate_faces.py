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
        after_import="Many readers stop at such a face. Others drop the face, so all later face numbers shift.",
        what_to_do="Clean up the mesh in the scene, and export again. The usual cause is loose edges that were written "
        "as faces.",
    ),
    fixes=("drop-degenerate-faces",),
    element="face",
)
