"""Give the reference frame's faces to frames whose surface is divided into different faces."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, partial

import numpy as np

from inspector.arrays import Indices, SmallIndices
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.faces import (
    FACE_COMMENTS,
    ILLEGAL_FACES,
    OTHER_STATES,
    has_legal_faces,
    run_of_face,
    states_of,
    with_faces,
)
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.formats.frame import Corners, Frame
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.surface.connections import from_lowest, rings_by_size
from inspector.surface.edges import next_corner

_LONGER = 1.5
"""Maximum ratio of the mean side length of the new faces to that of the replaced faces. A larger ratio probably
means that the vertices are in a different order. If only the division of the surface into faces differed, only
diagonals would change, and the ratio would be smaller."""

_MENDED_SHARE = 0.01
"""Maximum share of faces that may have one wrong vertex each. One such face is always allowed."""

Face = tuple[int, ...]
"""A face: the index of its run, its number of corners, and its vertices in order, beginning with the lowest index."""


@dataclass(frozen=True, slots=True, eq=False)
class RestoredFaces:
    """The faces that the fix gives to frames.

    Attributes:
        corners: The faces, by frame number.
        counts: Number of faces in each run, as in the reference frame.
    """

    corners: Mapping[Fraction, Corners]
    counts: list[int]


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[RestoredFaces]:
    """Find the frames with different faces, and give them the faces of the reference frame. The frames keep their own
    UVs and normals.

    Raises:
        Refusal: There is no such frame; a chosen frame doesn't exist or can't be read; a frame has invalid or duplicate
            faces, a different number of vertices, different groups or materials, or a different outline; its positions
            don't fit the reference frame's faces; or its UVs or normals are ambiguous.
    """
    series = context.series
    if series.reference_index is None:
        raise Refusal("no frame can be read")
    base, reference = series.reference_facts, context.reference_frame
    if not has_legal_faces(reference):
        raise Refusal(ILLEGAL_FACES)
    wanted = tuple(dict.fromkeys(one.number for one in series.facts if one.filled)) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if series.facts[index].topology != base.topology]
    if not indices:
        raise Refusal("every frame already has the faces of the reference frame")
    given: dict[Fraction, Corners] = {}
    ours = cache(partial(_faces, reference))  # computed only once, and only if a frame needs it
    for index in indices:
        given[series.facts[index].number] = _restored(reference, ours, context.frame(index))
    first = frame_text(next(iter(given)))
    return Step(
        FIX.id,
        {"reference": frame_text(base.number)},
        tuple(given),
        f"give {numbers_text(given)} the faces of frame {frame_text(base.number)}",
        (Change(f"frame {first}, faces", f"{context.frame(indices[0]).faces:,}", f"{reference.faces:,}"),),
        work=RestoredFaces(given, [run.stop - run.start for run in reference.runs]),
    )


def _restored(reference: Frame, faces_of_reference: Callable[[], Mapping[Face, int]], frame: Frame) -> Corners:
    """Return the reference frame's faces with the frame's UVs and normals.

    Raises:
        Refusal: The faces can't replace those of the frame, or the UVs or normals would have to be guessed.
    """
    _refuse_unfit(reference, frame)
    mended = _with_vertices_mended(reference, frame)
    if mended is not None:
        return mended
    if not has_legal_faces(frame):
        raise Refusal("a face has fewer than three corners or a missing vertex")
    ours, theirs = faces_of_reference(), _faces(frame)
    if len(ours) < reference.faces or len(theirs) < frame.faces:
        raise Refusal(
            "the frame has duplicate faces" if len(theirs) < frame.faces else "the reference frame has duplicate faces"
        )
    gone = np.array([face for key, face in theirs.items() if key not in ours], np.int64)
    new = np.array([face for key, face in ours.items() if key not in theirs], np.int64)
    _refuse_other_surface(reference, frame, new, gone)
    source = _source_corners(reference, frame, ours, theirs)
    fresh = np.flatnonzero(np.isin(reference.corners.face_of_corner(), new))
    wanted, known = reference.corners, frame.corners
    filled = _Filled(reference, frame, gone, fresh)
    vt, vn = known.vt[source], known.vn[source]
    if np.array_equal(reference.uvs, frame.uvs):
        vt = wanted.vt
    else:
        vt[fresh] = filled.values(known.vt, "UVs")
    vn[fresh] = filled.values(known.vn, "normals")
    return Corners(wanted.offsets, wanted.v, vt, vn)


def _refuse_unfit(reference: Frame, frame: Frame) -> None:
    if len(frame.positions) != len(reference.positions):
        raise Refusal("the vertex count differs from the reference frame's")
    if states_of(frame) != states_of(reference):
        raise Refusal(OTHER_STATES)


def _with_vertices_mended(reference: Frame, frame: Frame) -> Corners | None:
    """Return the frame's faces with the reference frame's vertices, if only a few corners have a wrong or missing
    vertex.

    None if the faces differ in their UV indices, their normal indices or their numbers of corners, if too many faces
    are wrong, or if a face has more than one wrong corner.
    """
    ours, theirs = reference.corners, frame.corners
    if not np.array_equal(ours.offsets, theirs.offsets) or len(ours.v) != len(theirs.v):
        return None
    wrong = ours.v != theirs.v
    faces = np.unique(theirs.face_of_corner()[wrong])
    per_face = np.bincount(theirs.face_of_corner()[wrong], minlength=1)
    alike = np.array_equal(ours.vt, theirs.vt) and np.array_equal(ours.vn, theirs.vn)
    if not alike or len(faces) > max(1.0, _MENDED_SHARE * frame.faces) or per_face.max() > 1:
        return None
    return Corners(theirs.offsets, ours.v, theirs.vt, theirs.vn)


def _faces(frame: Frame) -> dict[Face, int]:
    runs = run_of_face(frame)
    return {
        (run, size, *ring): face
        for faces, rings in rings_by_size(frame.corners)
        for size in [rings.shape[1]]
        for face, run, ring in zip(faces.tolist(), runs[faces].tolist(), from_lowest(rings).tolist(), strict=True)
    }


def _refuse_other_surface(reference: Frame, frame: Frame, new: Indices, gone: Indices) -> None:
    """Refuse new faces that don't fit the frame.

    In each run of faces (`FaceRun`), the new faces must have the same outline as the replaced faces. On average, the
    sides of the new faces must not be much longer than the sides of the replaced faces.

    Args:
        reference: The reference frame.
        frame: The frame.
        new: Indices of the reference frame's faces that the frame doesn't have, (k,).
        gone: Indices of the frame's faces that the reference frame doesn't have, (m,).

    Raises:
        Refusal: The new faces don't fit.
    """
    if _outline(reference, new) != _outline(frame, gone):
        raise Refusal(
            "faces were added or lost, so the outline differs from that of the reference frame's faces; export the "
            "frame again"
        )
    if not len(new):  # the same faces, listed in a different order
        return
    before, after = _length(frame, frame.corners, gone), _length(frame, reference.corners, new)
    if not after <= _LONGER * before:
        raise Refusal("the vertices are in a different order, so the reference frame's faces don't fit the positions")


def _sides(corners: Corners, faces: Indices) -> Indices:
    """Return the indices of the corners at which the sides of the given faces start, (k,)."""
    return np.flatnonzero(np.isin(corners.face_of_corner(), faces))


def _outline(frame: Frame, faces: Indices) -> set[tuple[int, int, int]]:
    """Return the sides of the given faces, each as (index of the face's run, first vertex, second vertex).

    A side is left out if two of these faces in the same run have it in opposite directions.
    """
    corners = frame.corners
    start = _sides(corners, faces)
    run = run_of_face(frame)[corners.face_of_corner()[start]]
    rows = np.column_stack([run, corners.v[start], corners.v[next_corner(corners)[start]]]).tolist()
    sides = {(run, a, b) for run, a, b in rows}
    return {(run, a, b) for run, a, b in sides if (run, b, a) not in sides}


def _length(frame: Frame, corners: Corners, faces: Indices) -> float:
    """Compute the mean side length of the given faces from the frame's positions, in scene units."""
    start = _sides(corners, faces)
    ends = corners.v[next_corner(corners)[start]]
    return float(np.linalg.norm(frame.positions[ends] - frame.positions[corners.v[start]], axis=1).mean())


def _source_corners(reference: Frame, frame: Frame, ours: Mapping[Face, int], theirs: Mapping[Face, int]) -> Indices:
    """Return the frame's corner for each corner of the reference frame, (c,); 0 if the frame doesn't have the corner's
    face."""
    source = np.zeros(len(reference.corners.v), np.int64)
    pairs = np.array([(face, theirs[key]) for key, face in ours.items() if key in theirs], np.int64).reshape(-1, 2)
    sizes = reference.corners.sizes[pairs[:, 0]]
    for size in np.unique(sizes).tolist():
        own, other = pairs[sizes == size].T
        at, there = (one.corners.offsets[faces] for one, faces in ((reference, own), (frame, other)))
        turn = np.arange(size)
        rings, rings_there = reference.corners.v[at[:, None] + turn], frame.corners.v[there[:, None] + turn]
        shift = rings_there.argmin(axis=1) - rings.argmin(axis=1)
        source[at[:, None] + turn] = there[:, None] + (turn + shift[:, None]) % size
    return source


class _Filled:
    """UVs and normals for the corners of new faces, found from the sides that new faces share with replaced faces.

    A corner of a new face is between two sides. If a replaced face has one of these sides in the same direction, the
    corner gets the UV and normal at the same end of that side. A seam between two quads thus stays in place, even if
    both quads were cut. A corner between two new diagonals gets the UV and normal that its vertex has in the replaced
    faces, if there is only one of each.

    Args:
        reference: The reference frame.
        frame: The frame.
        gone: Indices of the frame's faces that are replaced, (k,).
        fresh: Indices, in the reference frame, of the new faces' corners, (m,).
    """

    def __init__(self, reference: Frame, frame: Frame, gone: Indices, fresh: Indices) -> None:
        ours, theirs = reference.corners, frame.corners
        runs, run_of = run_of_face(reference)[ours.face_of_corner()], run_of_face(frame)[theirs.face_of_corner()]
        start, onward = _sides(theirs, gone), next_corner(theirs)
        sides = list(
            zip(run_of[start].tolist(), theirs.v[start].tolist(), theirs.v[onward[start]].tolist(), strict=True)
        )
        begins = dict(zip(sides, start.tolist(), strict=True))
        ends = dict(zip(sides, onward[start].tolist(), strict=True))
        self._at: dict[int, list[int]] = {}
        for corner in start.tolist():
            self._at.setdefault(int(theirs.v[corner]), []).append(corner)
        ahead = next_corner(ours)
        behind = np.empty_like(ahead)
        behind[ahead] = np.arange(len(ahead))
        self._corners = []
        for corner in fresh.tolist():
            run, here = int(runs[corner]), int(ours.v[corner])
            out = begins.get((run, here, int(ours.v[ahead[corner]])))
            into = ends.get((run, int(ours.v[behind[corner]]), here))
            found = [one for one in (out, into) if one is not None]
            self._corners.append(found or self._at.get(here, []))

    def values(self, slot: SmallIndices, what: str) -> Indices:
        """Return the UV or normal index at each corner of the new faces, (m,).

        Args:
            slot: UV or normal index at each corner of the frame, (c,).
            what: The word for these values in a message: "UVs" or "normals".

        Raises:
            Refusal: No index, or more than one index, fits a corner.
        """
        values: list[int] = []
        for corners in self._corners:
            found = {int(slot[corner]) for corner in corners}
            if len(found) > 1:
                raise Refusal(
                    f"the {what} have seams at faces that are cut differently from those of the reference frame, so "
                    f"the {what} of the new faces are ambiguous; export the frame again, or export it without {what}"
                )
            if not found:
                raise Refusal("some faces of the reference frame use vertices that no face of this frame uses")
            values += found
        return np.array(values, np.int64)


def edit_frame(frame: Frame, step: Step[RestoredFaces], number: Fraction) -> Frame:
    return with_faces(frame, step.work.corners[number], step.work.counts)


FIX = Fix(
    id="restore-faces",
    title="Restore the faces",
    kind=FixKind.LOSSLESS,
    does="Replaces the faces of a frame with the reference frame's faces if both connect the same vertices, but in "
    "different ways. Positions, UVs and normals are unchanged." + FACE_COMMENTS,
    cost="",
    touches=frozenset({b"f", b"fo"}),
    claims=frozenset({Claim.FACES}),
    plan=plan,
    edit_frame=edit_frame,
)
