"""The faces and vertices that a finding is about, in one frame: all of them, for pictures.

A finding keeps the first few places only. Where a finding's kind tells how its elements are found, they are looked
for again; else its places are taken.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from inspector import limits
from inspector.arrays import Floats
from inspector.checks.base.face_change import changed_faces
from inspector.checks.base.finding import Finding
from inspector.checks.base.uv_compare import compare_uvs
from inspector.formats.frame import ABSENT, Frame
from inspector.names import Name
from inspector.sequence.measure.text_forms import repeated_corners
from inspector.surface.connections import same_corners
from inspector.surface.edges import edges_of, next_corner
from inspector.surface.islands import face_materials
from inspector.surface.shapes import face_shapes

Indices = npt.NDArray[np.integer]


def _none() -> Indices:
    return np.zeros(0, np.int64)


@dataclass(frozen=True, eq=False)
class PickedOut:
    """faces (k,), vertices (m,): counted from 0, rising. first_only: there are more than these few places."""

    faces: Indices = field(default_factory=_none)
    vertices: Indices = field(default_factory=_none)
    first_only: bool = False


def pick_out(finding: Finding, frame: Frame, file: Name, reference: Frame | None) -> PickedOut:
    """What `finding` is about in `frame`, whose file is called `file` as in the finding's places. Nothing for a
    finding about the frame, or the sequence, as a whole."""
    faces = _FACES.get(finding.check)
    if faces is not None:
        return PickedOut(faces=np.asarray(faces(frame)))
    if finding.check == "unused-vertices":
        return PickedOut(vertices=np.setdiff1d(np.arange(len(frame.positions)), frame.corners.v))
    if reference is not None and finding.check in _AGAINST and _comparable(frame, reference):
        return PickedOut(faces=np.asarray(_AGAINST[finding.check](frame, reference)))
    return _places(finding, frame, file)


def _comparable(frame: Frame, reference: Frame) -> bool:
    return frame.faces == reference.faces and len(frame.positions) == len(reference.positions)


def _lacking(frame: Frame, index: Indices) -> Indices:
    """Faces of which a corner has no (legal) index."""
    return frame.corners.faces_with(index == ABSENT)


def _open(frame: Frame) -> Indices:
    edges = edges_of(frame.corners, frame.corners.v)
    return np.unique(edges.face[edges.uses[edges.edge] != 2])


def _bare(frame: Frame) -> Indices:
    names, material = face_materials(frame)
    return np.flatnonzero(np.array([name is None for name in names], bool)[material])


def _beyond_the_square(frame: Frame) -> Indices:
    """Faces with a corner outside the unit square of the texture."""
    uvs, _ = _corner_uvs(frame)
    rim = limits.UV_DIFFERENCE
    return frame.corners.faces_with(np.any((uvs < -rim) | (uvs > 1.0 + rim), axis=1))


def _mirrored(frame: Frame) -> Indices:
    """Faces that run clockwise in the texture."""
    return np.flatnonzero(_uv_areas(frame) < 0.0)


def _collapsed(frame: Frame) -> Indices:
    """Faces without area in the texture, all of whose corners have a UV."""
    whole = np.setdiff1d(np.arange(frame.faces), _lacking(frame, frame.corners.vt))
    return np.asarray(whole[_uv_areas(frame)[whole] == 0.0])


def _uv_areas(frame: Frame) -> Floats:
    """(f,): signed area of each face in the texture (shoelace formula), counter-clockwise positive; corners without a
    UV lie at the origin."""
    uvs, face = _corner_uvs(frame)
    (u, v), (next_u, next_v) = uvs.T, uvs[next_corner(frame.corners)].T
    return np.bincount(face, u * next_v - next_u * v, minlength=frame.faces) / 2.0


def _corner_uvs(frame: Frame) -> tuple[Floats, Indices]:
    """(c, 2), 0 for a corner without, and the face of each corner, (c,)."""
    corners = frame.corners
    uvs = np.zeros((len(corners.vt), 2))
    uvs[corners.vt != ABSENT] = np.nan_to_num(frame.uvs[corners.vt[corners.vt != ABSENT], :2])
    return uvs, corners.face_of_corner()


def _other_uvs(frame: Frame, reference: Frame) -> Indices:
    """Faces whose corners lie elsewhere in the texture than the reference's."""
    ours, theirs = frame.corners, reference.corners
    whole = (ours.vt != ABSENT).all() and (theirs.vt != ABSENT).all()
    same = np.array_equal(ours.v, theirs.v) and np.array_equal(ours.offsets, theirs.offsets)
    return compare_uvs(reference, frame).faces if whole and same and len(ours.v) else _none()


_FACES: Mapping[str, Callable[[Frame], Indices | list[int]]] = {
    "coincident-faces": lambda frame: same_corners(frame.corners)[1],
    "concave-faces": lambda frame: face_shapes(frame, closed=False).concave,
    "duplicate-faces": lambda frame: same_corners(frame.corners)[0],
    "faces-without-material": _bare,
    "zero-area-faces": lambda frame: face_shapes(frame, closed=False).flat,
    "index-range": lambda frame: _lacking(frame, frame.corners.v),
    "n-gons": lambda frame: np.flatnonzero(frame.corners.sizes > limits.MANY_CORNERS),
    "missing-normals": lambda frame: _lacking(frame, frame.corners.vn),
    "no-uvs": lambda frame: _lacking(frame, frame.corners.vt),
    "normal-index-range": lambda frame: _lacking(frame, frame.corners.vn),
    "reversed-normals": lambda frame: face_shapes(frame, closed=False).against,
    "boundary-edges": _open,
    "partial-uvs": lambda frame: _lacking(frame, frame.corners.vt),
    "repeated-corners": repeated_corners,
    "uv-collapsed": _collapsed,
    "uv-index-range": lambda frame: _lacking(frame, frame.corners.vt),
    "uv-mirrored": _mirrored,
    "uv-outside": _beyond_the_square,
    "non-planar-faces": lambda frame: face_shapes(frame, closed=False).warped,
}
"""Check -> the faces that it speaks of."""

_AGAINST: Mapping[str, Callable[[Frame, Frame], Indices]] = {
    "face-order": lambda frame, reference: changed_faces(reference, frame),
    "changed-faces": lambda frame, reference: changed_faces(reference, frame),
    "uv-mismatch": _other_uvs,
    "uv-values": _other_uvs,
    "vertex-order": lambda frame, reference: changed_faces(reference, frame),
    "winding": lambda frame, reference: changed_faces(reference, frame),
}
"""Check -> the faces that differ from the reference's."""


def _places(finding: Finding, frame: Frame, file: Name) -> PickedOut:
    """The faces and vertices among the finding's places in this file ("face 12", counted from 1)."""
    found: dict[str, list[int]] = {"face": [], "vertex": []}
    for where in finding.where:
        kind, _, number = (where.element or "").partition(" ")
        if where.file == file and kind in found and number.isascii() and number.isdigit():
            found[kind].append(int(number) - 1)
    faces = np.unique(np.array([face for face in found["face"] if face < frame.faces], np.int64))
    vertices = np.unique(np.array([one for one in found["vertex"] if one < len(frame.positions)], np.int64))
    return PickedOut(faces, vertices, first_only=bool(len(faces) or len(vertices)))
