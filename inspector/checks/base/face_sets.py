"""Find the faces of a frame that have a missing index, or whose vertices or UVs differ from the reference frame's."""

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
    "Mirrored faces are reported if they cover more than this share of the surface's UV area. If the unmirrored faces "
    "cover at most this share, the whole surface counts as mirrored. This value is common practice; it has no source.",
    settable=True,
)


def without_vertex(frame: Frame, _: Frame | None = None) -> Indices:
    """Return the faces with a corner that has no valid vertex, (k,), ascending. The reference frame isn't used."""
    return frame.corners.faces_with(frame.corners.v == ABSENT)


def without_uv(frame: Frame, _: Frame | None = None) -> Indices:
    """Return the faces with a corner that has no valid UV, (k,), ascending. The reference frame isn't used."""
    return frame.corners.faces_with(frame.corners.vt == ABSENT)


def without_normal(frame: Frame, _: Frame | None = None) -> Indices:
    """Return the faces with a corner that has no valid normal, (k,), ascending. The reference frame isn't used."""
    return frame.corners.faces_with(frame.corners.vn == ABSENT)


def with_other_corners(frame: Frame, reference: Frame | None) -> Indices | None:
    """Return the faces that don't have the same vertices in the same order as in the reference frame.

    The result contains ascending zero-based indices, (k,). It is None if there is no reference frame, or if the
    reference frame has a different number of faces or vertices.
    """
    if reference is None or not _comparable(frame, reference):
        return None
    return changed_faces(reference, frame)


def with_other_uvs(frame: Frame, reference: Frame | None) -> Indices | None:
    """Return the faces whose corners have UVs that differ from the reference frame's.

    The result contains ascending zero-based indices, (k,). It is None if there is no reference frame, or if the
    reference frame has a different number of faces or vertices. It is empty if any face has different vertices, or if a
    corner of either frame has no UV.
    """
    if reference is None or not _comparable(frame, reference):
        return None
    ours, theirs = frame.corners, reference.corners
    whole = (ours.vt != ABSENT).all() and (theirs.vt != ABSENT).all()
    same = np.array_equal(ours.v, theirs.v) and np.array_equal(ours.offsets, theirs.offsets)
    return compare_uvs(reference, frame).faces if whole and same and len(ours.v) else np.zeros(0, np.int64)


def corner_uvs_or_zero(frame: Frame) -> tuple[Floats, Indices]:
    """Return the UV of each corner, (c, 2), and the face of each corner, (c,). A missing UV is (0, 0).

    A coordinate that is not finite is replaced by a finite number, as numpy.nan_to_num does.
    """
    corners = frame.corners
    uvs = np.zeros((len(corners.vt), 2))
    uvs[corners.vt != ABSENT] = np.nan_to_num(frame.uvs[corners.vt[corners.vt != ABSENT], :2])
    return uvs, corners.face_of_corner()


def signed_uv_areas(frame: Frame) -> Floats:
    """Return the area of each face in the texture, (f,), positive if the face is counter-clockwise.

    Corners without a UV count as (0, 0).
    """
    uvs, face = corner_uvs_or_zero(frame)
    (u, v), (next_u, next_v) = uvs.T, uvs[next_corner(frame.corners)].T
    return np.bincount(face, u * next_v - next_u * v, minlength=frame.faces) / 2.0


def _comparable(frame: Frame, reference: Frame) -> bool:
    return frame.faces == reference.faces and len(frame.positions) == len(reference.positions)
