"""Compare the UVs of two frames with the same faces, and determine the kind of difference."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector import limits
from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import same_faces
from inspector.formats.frame import Frame


@dataclass(frozen=True, slots=True)
class UvDifference:
    """How the UVs of two frames with the same faces differ.

    Attributes:
        kind: "renumbered" (the same coordinates, with different indices), "shifted" (all indices off by the same
            constant), "reassigned" (corners use each other's UVs) or "seams" (different seams).
        faces: Indices, from 0, of the faces whose coordinates differ, ascending, (k,).
        corners: Number of corners that have different coordinates.
        shift: The constant, if the kind is "shifted"; otherwise 0.
    """

    kind: str
    faces: npt.NDArray[np.intp]
    corners: int
    shift: int = 0


def corner_uvs(frame: Frame) -> Floats:
    """Return the UV coordinates at each corner, (c, 2). Every corner must have a UV."""
    return frame.uvs[frame.corners.vt, :2]


def moving_uvs(context: CheckContext) -> list[int]:
    """If the UVs move throughout, return the indices of frames whose UV coordinates differ from the reference frame's.

    Otherwise, the result is empty. Only frames with complete UVs, and with the reference frame's faces and UV indices,
    are compared. The UVs move throughout if the number of different sets of coordinates, not counting the reference
    frame's set, is more than half the number of compared frames.

    Raises:
        MeshqcError: There is no reference frame.
    """
    series = context.series
    alike = [one for one in same_faces(context) if series.facts[one].uv_indices == series.reference_facts.uv_indices]
    others = [index for index in alike if series.facts[index].uv_values != series.reference_facts.uv_values]
    return others if len({series.facts[index].uv_values for index in others}) > len(alike) / 2 else []


@np.errstate(over="ignore")  # a difference beyond the range of float64 is still a difference
def compare_uvs(reference: Frame, frame: Frame) -> UvDifference:
    """Compare the UVs of two frames that have the same faces and a UV at every corner."""
    wanted, found = corner_uvs(reference), corner_uvs(frame)
    # `not <=` rather than `>`, because NaN differs from everything.
    differs = np.asarray(~(np.abs(wanted - found) <= limits.UV_DIFFERENCE.value).all(axis=1))
    corners = int(differs.sum())
    faces = frame.corners.faces_with(differs)
    if not corners:
        return UvDifference("renumbered", faces, 0)
    shift = constant_shift(reference, frame)
    if shift is not None:
        return UvDifference("shifted", faces, corners, shift)
    if _same_within_faces(reference, frame, differs) or _same_sharing(reference, frame):
        return UvDifference("reassigned", faces, corners)
    return UvDifference("seams", faces, corners)


def constant_shift(reference: Frame, frame: Frame) -> int | None:
    """Return the constant by which every UV index is off; None if there is no such constant, or if it is 0.

    Both frames must have the same faces, and a UV at every corner. If they have the same number of UVs, indices may
    wrap around at the end.
    """
    count = len(reference.uvs)
    offsets = frame.corners.vt.astype(np.int64) - reference.corners.vt
    if count == len(frame.uvs):
        offsets = (offsets + count // 2) % count - count // 2
    shift = int(offsets[0])
    return shift if shift != 0 and (offsets == shift).all() else None


def _same_within_faces(reference: Frame, frame: Frame, differs: npt.NDArray[np.bool_]) -> bool:
    """Whether each face whose UVs differ has the reference frame's UVs, but at different corners."""
    face = frame.corners.face_of_corner()
    touched = np.isin(face, face[differs])

    def rows(one: Frame) -> Floats:
        uvs = np.round(corner_uvs(one)[touched] / limits.UV_DIFFERENCE.value)
        return uvs[np.lexsort((uvs[:, 1], uvs[:, 0], face[touched]))]

    return np.array_equal(rows(reference), rows(frame))


def _same_sharing(reference: Frame, frame: Frame) -> bool:
    """Whether the same corners share UVs in both frames, so that the seams are the same."""
    ours, theirs = frame.corners.vt.astype(np.int64), reference.corners.vt.astype(np.int64)
    pairs = _distinct(ours * (len(reference.uvs) + 1) + theirs)
    return pairs == _distinct(ours) == _distinct(theirs)


def _distinct(values: npt.NDArray[np.int64]) -> int:
    """Count the different values. On large arrays, numpy.unique takes about ten times as long."""
    ordered = np.sort(values)
    return int(np.count_nonzero(np.diff(ordered))) + bool(len(ordered))
