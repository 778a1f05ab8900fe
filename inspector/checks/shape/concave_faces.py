"""Concave faces, which readers triangulate in different ways."""

from __future__ import annotations

from inspector.arrays import Indices
from inspector.checks.base.check import Rationale
from inspector.checks.base.cut_faces import FLIP_SHARE, cut_check
from inspector.formats.frame import Frame
from inspector.surface.shapes import BENDS_IN, face_shapes


def _affected(frame: Frame, _: Frame | None) -> Indices:
    return face_shapes(frame, closed=False).concave


CHECK = cut_check(
    id="concave-faces",
    title="Concave faces",
    kind="concave-face",
    words="with a corner that points inward",
    rationale=Rationale(
        what="A corner of the face points inward, so some triangulations extend beyond the outline of the face.",
        after_import="Readers that start every triangle at the first corner produce triangles that extend beyond the "
        "outline, overlap or leave gaps. If a face is concave only on some frames, the triangulation may change "
        "between frames and make the surface flicker.",
        what_to_do="In the scene, cut these faces into triangles or convex quads once, before the mesh is animated.",
    ),
    thresholds=(BENDS_IN, FLIP_SHARE),
    affected_faces=_affected,
)
