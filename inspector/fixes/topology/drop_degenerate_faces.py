"""Drop degenerate faces and repeated corners. The same faces and corners are dropped from all frames."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.arrays import Flags, Indices
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.errors import Refusal
from inspector.fixes.base.faces import FACE_COMMENTS, counts_of, refuse_mixed_faces, with_faces
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.formats.frame import ABSENT, Corners, Frame
from inspector.surface.edges import next_corner


@dataclass(frozen=True, slots=True, eq=False)
class KeptCorners:
    """The faces and corners that remain, the same on all frames.

    Attributes:
        faces: Indices of the remaining faces, ascending, (k,).
        corners: Indices of the remaining corners, ascending, (c,).
        offsets: Position of each face's first corner among the remaining corners, and then the number of remaining
            corners, (k + 1,).
    """

    faces: Indices
    corners: Indices
    offsets: Indices


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[KeptCorners]:
    """Find repeated corners, and faces that are folded onto themselves or, not counting repeated corners, have fewer
    than three corners.

    Raises:
        Refusal: There is nothing to drop, faces differ between frames, or a corner has no vertex.
    """
    refuse_mixed_faces(context)
    reference = context.reference_frame
    corners = reference.corners
    if (corners.v == ABSENT).any():
        raise Refusal("the reference frame has a face with a missing vertex")
    work = _what_stays(corners)
    dropped = reference.faces - len(work.faces)
    shorter = int((np.diff(work.offsets) < corners.sizes[work.faces]).sum())
    if not dropped and not shorter:
        raise Refusal("no face is degenerate, and no corner repeats the corner before it")
    faces = [count_of(dropped, "degenerate face")] * bool(dropped)
    repeats = [f"repeated corners of {count_of(shorter, 'other face' if dropped else 'face')}"] * bool(shorter)
    return Step(
        FIX.id,
        {},
        all_numbers(context),
        f"drop {' and '.join(faces + repeats)}",
        (Change("faces of each frame", f"{reference.faces:,}", f"{len(work.faces):,}"),),
        work=work,
    )


def _what_stays(corners: Corners) -> KeptCorners:
    face = corners.face_of_corner()
    single: Flags = corners.v != corners.v[next_corner(corners)]
    sizes = np.bincount(face[single], minlength=len(corners.offsets) - 1)
    gone = (sizes < 3) | _folded(corners, single, sizes)
    faces = np.flatnonzero(~gone)
    kept = np.flatnonzero(single & ~gone[face])
    return KeptCorners(faces, kept, np.concatenate([np.zeros(1, np.int64), np.cumsum(sizes[faces])]))


def _folded(corners: Corners, single: Flags, sizes: Indices) -> Flags:
    """Return, for each face, (f,), whether it has four corners and visits a vertex twice, so that its halves coincide.

    A corner that has the same vertex as the next corner (its `single` is false) doesn't count as a corner.
    """
    folded = np.zeros(len(sizes), bool)
    four = np.flatnonzero(sizes == 4)
    if len(four):
        rings = corners.v[np.flatnonzero(single & np.isin(corners.face_of_corner(), four))].reshape(-1, 4)
        folded[four] = (rings[:, 0] == rings[:, 2]) | (rings[:, 1] == rings[:, 3])
    return folded


def edit_frame(frame: Frame, step: Step[KeptCorners], _: Fraction) -> Frame:
    kept, corners = step.work.corners, frame.corners
    fresh = Corners(step.work.offsets, corners.v[kept], corners.vt[kept], corners.vn[kept])
    return with_faces(frame, fresh, counts_of(frame.runs, step.work.faces))


FIX = Fix(
    id="drop-degenerate-faces",
    title="Drop degenerate faces",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.DROPS}),
    does="Removes faces that have fewer than three corners or are folded onto themselves, and corners that repeat "
    "the corner before them. Works only if all frames have the same faces.",
    cost="The faces are lost. Later faces are renumbered, in the same way on every frame." + FACE_COMMENTS,
    touches=frozenset({b"f", b"fo"}),
    claims=frozenset({Claim.FACES}),
    plan=plan,
    whole=True,
    edit_frame=edit_frame,
)
