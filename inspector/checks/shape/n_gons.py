"""Faces with more corners than some readers support."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Indices
from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.formats.wavefront.indices_plain import MANY_CORNERS


def _affected(frame: Frame, _: Frame | None) -> Indices:
    return np.flatnonzero(frame.corners.sizes > MANY_CORNERS.value)


CHECK = note_check(
    id="n-gons",
    title="Very large n-gons",
    kinds={"n-gons": Severity.WARNING},
    rationale=Rationale(
        what="A face has more than 255 corners.",
        after_import="Readers that store the number of corners in one byte tear the face apart or crash. The "
        "triangulation may differ between frames.",
        what_to_do="In the scene, cut the face into smaller faces, and export again. Such a face is often the cap of a "
        "cylinder or the outline of a letter.",
    ),
    fixes=("triangulate",),
    element="face",
    thresholds=(MANY_CORNERS,),
    needs=(Trait.POLYGONS,),
    affected_faces=_affected,
)
