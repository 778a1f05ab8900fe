"""Faces so far from planar that their cut into triangles is visible."""

from __future__ import annotations

from inspector.arrays import Indices
from inspector.checks.base.check import Rationale
from inspector.checks.base.cut_faces import FLIP_SHARE, cut_check
from inspector.formats.frame import Frame
from inspector.surface.shapes import NON_PLANAR, face_shapes


def _affected(frame: Frame, _: Frame | None) -> Indices:
    """Find the non-planar faces: indices from 0, ascending, (k,)."""
    return face_shapes(frame, closed=False).non_planar


CHECK = cut_check(
    id="non-planar-faces",
    title="Non-planar faces",
    kind="non-planar-face",
    words="far from planar",
    rationale=Rationale(
        what="The corners of a face are far from a common plane, as in a saddle. The format doesn't define how the "
        "face is cut into triangles.",
        after_import="A crease runs along one diagonal or the other, depending on the reader. If the reader chooses "
        "the diagonal again on each frame, the crease flips.",
        what_to_do="In the scene, cut these faces into triangles once, before the animation, so that all frames have "
        "the same cut.",
    ),
    thresholds=(NON_PLANAR, FLIP_SHARE),
    affected_faces=_affected,
)
