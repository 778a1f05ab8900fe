"""Drop faces with the same vertices as an earlier face. The same faces are dropped from all frames."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.arrays import Indices
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.errors import Refusal
from inspector.fixes.base.faces import FACE_COMMENTS, refuse_mixed_faces, with_faces_kept
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.formats.frame import Frame
from inspector.surface.connections import same_corners


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[Indices]:
    """Find the faces with the same vertices as an earlier face, in the same or the reverse order.

    Returns:
        A step whose `work` contains the indices of the faces to keep, ascending, (k,).

    Raises:
        Refusal: There is no such face, or faces differ between frames.
    """
    refuse_mixed_faces(context)
    reference = context.reference_frame
    same, backs = same_corners(reference.corners)
    if not len(same) and not len(backs):
        raise Refusal("no two faces have the same vertices")
    left = np.setdiff1d(np.arange(reference.faces), np.concatenate([same, backs]))
    return Step(
        FIX.id,
        {},
        all_numbers(context),
        f"drop {count_of(len(same) + len(backs), 'face')} that {'has' if len(same) + len(backs) == 1 else 'have'} the "
        f"same vertices as an earlier face: {len(same):,} with the same orientation, {len(backs):,} reversed",
        (Change("faces of each frame", f"{reference.faces:,}", f"{len(left):,}"),),
        work=left,
    )


def edit_frame(frame: Frame, step: Step[Indices], _: Fraction) -> Frame:
    return with_faces_kept(frame, step.work)


FIX = Fix(
    id="drop-duplicate-faces",
    title="Drop duplicate faces",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.DROPS}),
    does="Drops each face that has the same vertices as an earlier face, with the same or the opposite orientation. "
    "Works only if all frames have the same faces.",
    cost="The dropped faces are lost with their UVs and materials, even if a pair of faces was meant to be visible "
    "from both sides. Later faces are renumbered, in the same way on every frame." + FACE_COMMENTS,
    touches=frozenset({b"f", b"fo"}),
    claims=frozenset({Claim.FACES}),
    plan=plan,
    whole=True,
    edit_frame=edit_frame,
)
