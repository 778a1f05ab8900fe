"""Compare the faces of two frames that have the same numbers of vertices and faces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.formats.frame import ABSENT, Corners, Frame
from inspector.surface.connections import from_lowest
from inspector.surface.edges import next_corner
from inspector.threshold import Threshold

ORDER_FACTOR = Threshold(
    "order-factor",
    1.5,
    "If the edges of a frame are more than this many times as long as those of another frame, the vertices count as "
    "being in a different order. A random order makes the edges about 2 times as long in a mesh of twenty vertices, "
    "and 10 or more times as long in real meshes. Longer edges don't count if a larger bounding box explains them, "
    "because the surface may really have grown.",
)

Faces = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class FaceChange:
    """How the faces of a frame differ from the reference frame's.

    Attributes:
        kind: "reversed" (vertices in the opposite direction), "renumbered" (the same surface, with its vertices in a
            different order), "reordered" (the same faces in a different order), "reconnected" (the same numbers of
            corners, but different vertices) or "divided" (different numbers of corners).
        count: Number of faces that differ, or of all faces if the kind is "reordered". If the kind is "renumbered", the
            number of vertices with a different index, or 0 if the order of the faces changed as well.
        face: Index, from 0, of the first face that differs; 0 if the kind is "reordered".
    """

    kind: str
    count: int
    face: int


def face_change(reference: Frame, frame: Frame) -> FaceChange:
    """Compare the faces of two frames that have the same numbers of vertices and faces, but different faces.

    The kind of change is never "reordered", because `CheckContext.face_change` recognises this kind by digests.
    """
    faces = changed_faces(reference, frame)
    ours, theirs = frame.corners, reference.corners
    first = int(faces[0])
    if not np.array_equal(ours.sizes, theirs.sizes):
        if _same_degrees(reference, frame) and _explodes(reference, frame):
            return FaceChange("renumbered", 0, first)
        return FaceChange("divided", len(faces), first)
    if _reversed(theirs, ours, faces):
        return FaceChange("reversed", len(faces), first)
    renumbered = _renumbered(reference, frame)
    if renumbered is not None:
        return FaceChange("renumbered", renumbered, first)
    return FaceChange("reconnected", len(faces), first)


def changed_faces(reference: Frame, frame: Frame) -> Faces:
    """Return the faces whose vertices differ from those of the reference frame's face with the same index.

    The result contains ascending zero-based indices, (k,). Both frames must have the same number of faces.
    """
    ours, theirs = frame.corners, reference.corners
    changed = ours.sizes != theirs.sizes
    if not changed.any() and len(ours.v) == len(theirs.v):
        changed[ours.face_of_corner()[ours.v != theirs.v]] = True
        return np.flatnonzero(changed)
    alike = np.flatnonzero(~changed)
    for face in alike:
        a, b = ours.offsets[face], theirs.offsets[face]
        size = ours.offsets[face + 1] - a
        changed[face] = not np.array_equal(ours.v[a : a + size], theirs.v[b : b + size])
    return np.flatnonzero(changed)


def _reversed(theirs: Corners, ours: Corners, faces: Faces) -> bool:
    """Whether all these faces list their vertices in the opposite direction from the reference frame's faces."""
    sizes = ours.sizes[faces]
    for size in np.unique(sizes).tolist():
        rows = ours.offsets[faces[sizes == size]][:, None] + np.arange(size)
        wanted = theirs.v[rows].astype(np.int64)
        if (from_lowest(ours.v[rows].astype(np.int64)[:, ::-1]) != from_lowest(wanted)).any():
            return False
    return True


def _renumbered(reference: Frame, frame: Frame) -> int | None:
    """Count the vertices with a different index, if a new order of the vertices explains the different faces.

    The result is 0 if the order of the faces changed as well, and None if no order of the vertices explains the
    different faces.
    """
    ours, theirs = frame.corners.v, reference.corners.v
    number = np.full(len(reference.positions) + 1, ABSENT, np.int64)
    number[theirs] = ours
    back = np.full(len(frame.positions) + 1, ABSENT, np.int64)
    back[ours] = theirs
    if (number[theirs] == ours).all() and (back[ours] == theirs).all():
        wanted = side_lengths(reference, reference.corners)
        followed, stayed = side_lengths(frame, frame.corners), side_lengths(frame, reference.corners)
        if np.abs(followed - wanted).sum() < np.abs(stayed - wanted).sum():
            used = number[:-1] != ABSENT
            return int((number[:-1][used] != np.flatnonzero(used)).sum())
    return 0 if _same_degrees(reference, frame) and _explodes(reference, frame) else None


def _same_degrees(reference: Frame, frame: Frame) -> bool:
    """Whether the numbers of corners per vertex are the same in both frames, apart from the order of the vertices."""
    counts = (
        np.bincount(one.corners.v[one.corners.v >= 0], minlength=len(one.positions)) for one in (reference, frame)
    )
    ours, theirs = (np.bincount(count) for count in counts)
    return np.array_equal(ours, theirs)


def _explodes(reference: Frame, frame: Frame) -> bool:
    """Whether, at this frame's positions, the reference frame's faces have far longer sides than this frame's faces."""
    own, laid = side_lengths(frame, frame.corners), side_lengths(frame, reference.corners)
    return bool(len(own) and len(laid) and laid.mean() > ORDER_FACTOR.value * own.mean() > 0.0)


@np.errstate(over="ignore", invalid="ignore")  # comparisons with lengths that are not finite are false
def side_lengths(frame: Frame, corners: Corners) -> Floats:
    """Return the length of the side that starts at each corner, (c,), in scene units; 0 if one of its vertices is
    missing.

    `corners` and the positions may come from different frames.
    """
    start, end = corners.v, corners.v[next_corner(corners)]
    sides = np.where(((start >= 0) & (end >= 0))[:, None], frame.positions[end] - frame.positions[start], 0.0)
    lengths: Floats = np.sqrt(np.einsum("ci,ci->c", sides, sides))
    return lengths
