"""Faces so far from planar that their triangulation is visible."""

from __future__ import annotations

from inspector.arrays import Indices
from inspector.checks.base.check import Rationale
from inspector.checks.base.cut_faces import FLIP_SHARE, cut_check
from inspector.formats.frame import Frame
from inspector.surface.shapes import NON_PLANAR, face_shapes


def _affected(frame: Frame, _: Frame | None) -> Indices:
    return face_shapes(frame, closed=False).non_planar


CHECK = cut_check(
    id="non-planar-faces",
    title="Non-planar faces",
    kind="non-planar-face",
    words="far from planar",
    rationale=Rationale(
        what="The corners of a face are far from lying in one plane, as in a saddle. The format doesn't define how "
        "such a face is triangulated.",
        after_import="Depending on the reader, a crease runs along one or the other diagonal of the face. If the "
        "reader chooses the diagonal for each frame separately, the crease flips.",
        what_to_do="In the scene, triangulate these faces once, before the mesh is animated, so that the triangles are "
        "the same on all frames.",
    ),
    thresholds=(NON_PLANAR, FLIP_SHARE),
    affected_faces=_affected,
)
