"""Faces that use a vertex twice."""

from __future__ import annotations

import numpy as np

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.sequence.measure.text_forms import repeated_corners

CHECK = note_check(
    id="repeated-corners",
    title="Repeated corners in a face",
    kinds={"repeated-corner": Severity.WARNING},
    rationale=Rationale(
        what="A face names the same vertex at two of its corners, so that it is folded or has no area.",
        after_import="Black or flickering specks; readers that drop such faces shift all face numbers after them.",
        what_to_do="Merge or delete the collapsed edges in the scene, the same for all frames.",
    ),
    fixes=("drop-degenerate-faces",),
    element="face",
    affected_faces=lambda frame, _: np.asarray(repeated_corners(frame)),
)
