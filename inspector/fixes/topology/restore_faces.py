"""Frames that were cut into faces anew get the reference's faces back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.arrays import Indices, SmallIndices
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.errors import Refusal
from inspector.fixes.base.faces import has_legal_faces, run_of_face, states_of, with_faces
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frames import readable_indices
from inspector.formats.frame import Corners, Frame
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.surface.connections import from_lowest, rings_by_size
from inspector.surface.edges import next_corner

_LONGER = 1.5
"""Sides of the given faces may on average be this many times as long as the frame's own: another cut changes diagonals
only, while faces over vertices in another order reach across the whole mesh."""

Face = tuple[int, ...]
"""The run that a face stands in, and its vertices from the lowest on."""


@dataclass(frozen=True, slots=True, eq=False)
class RestoredFaces:
    """corners: by frame number; counts: of faces in each run, as in the reference."""

    corners: Mapping[Fraction, Corners]
    counts: list[int]


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[RestoredFaces]:
    series = context.series
    if series.reference_index is None:
        raise Refusal("no frame can be read")
    base, reference = series.reference_facts, context.reference_frame
    if not has_legal_faces(reference):
        raise Refusal("the reference has faces with under three corners or without a vertex")
    wanted = tuple(dict.fromkeys(one.number for one in series.facts if one.readable)) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if series.facts[index].topology != base.topology]
    if not indices:
        raise Refusal("every frame has the reference's faces already")
    given: dict[Fraction, Corners] = {}
    for index in indices:
        name = f"frame {frame_text(series.facts[index].number)}"
        given[series.facts[index].number] = _restored(reference, context.frame(index), name)
    first = frame_text(next(iter(given)))
    return Step(
        FIX.id,
        {"reference": frame_text(base.number)},
        tuple(given),
        f"give {numbers_text(given)} the faces of frame {frame_text(base.number)}",
        (Change(f"frame {first}, faces", f"{context.frame(indices[0]).faces:,}", f"{reference.faces:,}"),),
        work=RestoredFaces(given, [run.stop - run.start for run in reference.runs]),
    )


def _restored(reference: Frame, frame: Frame, name: str) -> Corners:
    """The reference's faces with the frame's UVs and normals. Raises Refusal where that would be a guess."""
    _refuse_unfit(reference, frame, name)
    ours, theirs = _faces(reference), _faces(frame)
    if len(ours) < reference.faces or len(theirs) < frame.faces:
        raise Refusal(f"{name if len(theirs) < frame.faces else 'the reference'} has faces twice")
    gone = np.array([face for key, face in theirs.items() if key not in ours], np.int64)
    new = np.array([face for key, face in ours.items() if key not in theirs], np.int64)
    _refuse_other_surface(reference, frame, new, gone, name)
    source = _source_corners(reference, frame, ours, theirs)
    fresh = np.isin(reference.corners.face_of_corner(), new)
    source[fresh] = _corners_at(frame, gone, reference.corners.v[fresh])
    wanted, known = reference.corners, frame.corners
    vt = wanted.vt if np.array_equal(reference.uvs, frame.uvs) else known.vt[source]
    if vt is not wanted.vt:
        _refuse_seams(frame, known.vt, gone, f"{name}: UVs")
    _refuse_seams(frame, known.vn, gone, f"{name}: normals")
    return Corners(wanted.offsets, wanted.v, vt, known.vn[source])


def _refuse_unfit(reference: Frame, frame: Frame, name: str) -> None:
    if len(frame.positions) != len(reference.positions):
        raise Refusal(f"{name} has {len(frame.positions):,} vertices, the reference {len(reference.positions):,}")
    if not has_legal_faces(frame):
        raise Refusal(f"{name} has faces with under three corners or without a vertex")
    if states_of(frame) != states_of(reference):
        raise Refusal(f"the faces of {name} stand in other groups or materials than the reference's")


def _faces(frame: Frame) -> dict[Face, int]:
    runs = run_of_face(frame)
    return {
        (run, size, *ring): face
        for faces, rings in rings_by_size(frame.corners)
        for size in [rings.shape[1]]
        for face, run, ring in zip(faces.tolist(), runs[faces].tolist(), from_lowest(rings).tolist(), strict=True)
    }


def _refuse_other_surface(reference: Frame, frame: Frame, new: Indices, gone: Indices, name: str) -> None:
    """Both sets of faces must fill the same outline in each run, with sides of like length."""
    if _outline(reference, new) != _outline(frame, gone):
        raise Refusal(f"{count_of(len(gone), 'face')} of {name} fill another outline than the reference's do")
    if not len(new):  # the same faces, listed in another order
        return
    before, after = _length(frame, frame.corners, gone), _length(frame, reference.corners, new)
    if not after <= _LONGER * before:
        raise Refusal(
            f"the positions of {name} don't agree with the reference's faces; its vertices have another order"
        )


def _sides(corners: Corners, faces: Indices) -> Indices:
    """Corners (k,) at which the sides of these faces start."""
    return np.flatnonzero(np.isin(corners.face_of_corner(), faces))


def _outline(frame: Frame, faces: Indices) -> set[tuple[int, int, int]]:
    """Sides (run, from, to) of faces that no other of these in the run goes along the other way."""
    corners = frame.corners
    start = _sides(corners, faces)
    run = run_of_face(frame)[corners.face_of_corner()[start]]
    rows = np.column_stack([run, corners.v[start], corners.v[next_corner(corners)[start]]]).tolist()
    sides = {(run, a, b) for run, a, b in rows}
    return {(run, a, b) for run, a, b in sides if (run, b, a) not in sides}


def _length(frame: Frame, corners: Corners, faces: Indices) -> float:
    """Mean length of the sides of the faces in the frame, scene units."""
    start = _sides(corners, faces)
    ends = corners.v[next_corner(corners)[start]]
    return float(np.linalg.norm(frame.positions[ends] - frame.positions[corners.v[start]], axis=1).mean())


def _source_corners(reference: Frame, frame: Frame, ours: Mapping[Face, int], theirs: Mapping[Face, int]) -> Indices:
    """For each corner of faces that both have the frame's corner, else 0."""
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


def _corners_at(frame: Frame, faces: Indices, vertices: SmallIndices) -> Indices:
    """A corner of these faces at each of the vertices; the outline tells that there is one at all but inner ones."""
    corner = np.full(len(frame.positions), -1)
    sides = _sides(frame.corners, faces)
    corner[frame.corners.v[sides]] = sides
    found = corner[vertices]
    if (found < 0).any():
        raise Refusal("faces of the reference use vertices that no face of the frame uses")
    return np.asarray(found)


def _refuse_seams(frame: Frame, slot: SmallIndices, faces: Indices, what: str) -> None:
    """Raises Refusal where a vertex has several UVs or normals on the faces that go: which goes where isn't known."""
    sides = _sides(frame.corners, faces)
    pairs = np.unique(np.column_stack([frame.corners.v[sides], slot[sides]]), axis=0)
    several = len(pairs) - len(np.unique(pairs[:, 0]))
    if several:
        raise Refusal(f"{what} have seams at {several:,} vertices of the faces that were cut anew")


def edit_frame(frame: Frame, step: Step[RestoredFaces], number: Fraction) -> Frame:
    return with_faces(frame, step.work.corners[number], step.work.counts)


FIX = Fix(
    id="restore-faces",
    title="Restore the faces",
    kind=FixKind.LOSSLESS,
    does="Where the same vertices were cut into faces in another way, gives the frame the reference's faces; "
    "positions, UVs and normals stay its own.",
    cost="",
    touches=frozenset({b"f", b"fo"}),
    claims=frozenset({Claim.FACES}),
    plan=plan,
    edit_frame=edit_frame,
)
