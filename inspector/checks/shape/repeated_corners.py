"""Faces that use a vertex more than once."""

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
        what="Two corners of a face use the same vertex, so the face is folded or has no area.",
        after_import="Black or flickering specks appear. In readers that drop such faces, all later face numbers "
        "shift.",
        what_to_do="In the scene, remove the same collapsed edges on all frames.",
    ),
    fixes=("drop-degenerate-faces",),
    element="face",
    affected_faces=lambda frame, _: np.asarray(repeated_corners(frame)),
)
