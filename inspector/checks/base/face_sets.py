"""Find the faces that checks report.

Such a face has a corner without a valid index, or has different vertices or UVs from the reference's.
"""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.checks.base.face_change import changed_faces
from inspector.checks.base.uv_compare import compare_uvs
from inspector.formats.frame import ABSENT, Frame
from inspector.surface.edges import next_corner
from inspector.threshold import Threshold

MIRRORED_SHARE = Threshold(
    "mirrored-share",
    0.01,
    "Smallest share of a material's area in the texture that counts as a mirrored part, and smallest share that "
    "counts as an unmirrored part (common practice, no source).",
    settable=True,
)


def without_vertex(frame: Frame, _: Frame | None = None) -> Indices:
    """Indices of the faces with a corner that has no valid vertex, ascending, (k,). The reference isn't used."""
    return frame.corners.faces_with(frame.corners.v == ABSENT)


def without_uv(frame: Frame, _: Frame | None = None) -> Indices:
    """Indices of the faces with a corner that has no valid UV, ascending, (k,). The reference isn't used."""
    return frame.corners.faces_with(frame.corners.vt == ABSENT)


def without_normal(frame: Frame, _: Frame | None = None) -> Indices:
    """Indices of the faces with a corner that has no valid normal, ascending, (k,). The reference isn't used."""
    return frame.corners.faces_with(frame.corners.vn == ABSENT)


def with_other_corners(frame: Frame, reference: Frame | None) -> Indices | None:
    """Find the faces whose vertices, or their order, differ from those of the reference's face with the same index.

    Args:
        frame: The frame.
        reference: The reference frame, None if there is none.

    Returns:
        Indices from 0, ascending, (k,); None if there is no reference, or its counts of faces or vertices differ.
    """
    if reference is None or not _comparable(frame, reference):
        return None
    return changed_faces(reference, frame)


def with_other_uvs(frame: Frame, reference: Frame | None) -> Indices | None:
    """Find the faces whose corners have different UVs from the reference's.

    Args:
        frame: The frame.
        reference: The reference frame, None if there is none.

    Returns:
        Indices from 0, ascending, (k,). None if there is no reference, or its counts of faces or vertices differ. Empty
        if any face has different vertices from the reference's, or any corner of either frame has no UV.
    """
    if reference is None or not _comparable(frame, reference):
        return None
    ours, theirs = frame.corners, reference.corners
    whole = (ours.vt != ABSENT).all() and (theirs.vt != ABSENT).all()
    same = np.array_equal(ours.v, theirs.v) and np.array_equal(ours.offsets, theirs.offsets)
    return compare_uvs(reference, frame).faces if whole and same and len(ours.v) else np.zeros(0, np.int64)


def corner_uvs_or_zero(frame: Frame) -> tuple[Floats, Indices]:
    """The UV at each corner, (c, 2), and the face of each corner, (c,). The UV is (0, 0) where there is none."""
    corners = frame.corners
    uvs = np.zeros((len(corners.vt), 2))
    uvs[corners.vt != ABSENT] = np.nan_to_num(frame.uvs[corners.vt[corners.vt != ABSENT], :2])
    return uvs, corners.face_of_corner()


def signed_uv_areas(frame: Frame) -> Floats:
    """The area of each face in the texture, (f,), by the shoelace formula; positive if the face is counter-clockwise.

    Corners without a UV count as (0, 0).
    """
    uvs, face = corner_uvs_or_zero(frame)
    (u, v), (next_u, next_v) = uvs.T, uvs[next_corner(frame.corners)].T
    return np.bincount(face, u * next_v - next_u * v, minlength=frame.faces) / 2.0


def _comparable(frame: Frame, reference: Frame) -> bool:
    return frame.faces == reference.faces and len(frame.positions) == len(reference.positions)
