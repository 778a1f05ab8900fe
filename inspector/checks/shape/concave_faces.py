"""Concave faces, which readers cut into triangles in different ways."""

from __future__ import annotations

from inspector.arrays import Indices
from inspector.checks.base.check import Rationale
from inspector.checks.base.cut_faces import FLIP_SHARE, cut_check
from inspector.formats.frame import Frame
from inspector.surface.shapes import BENDS_IN, face_shapes


def _affected(frame: Frame, _: Frame | None) -> Indices:
    """Find the concave faces: indices from 0, ascending, (k,)."""
    return face_shapes(frame, closed=False).concave


CHECK = cut_check(
    id="concave-faces",
    title="Concave faces",
    kind="concave-face",
    words="with a corner that points inward",
    rationale=Rationale(
        what="A corner of the face points inward, so some cuts into triangles extend beyond its outline.",
        after_import="Readers that cut from the first corner produce triangles outside the outline, which overlap or "
        "leave gaps. If a face is concave only on some frames, the cut may change between frames, and the surface "
        "flickers.",
        what_to_do="In the scene, cut these faces into triangles or convex quads once, before the animation.",
    ),
    thresholds=(BENDS_IN, FLIP_SHARE),
    affected_faces=_affected,
)
