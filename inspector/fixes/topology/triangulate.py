"""Cut all faces into triangles, along the same lines on every frame."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.faces import (
    FACE_COMMENTS,
    ILLEGAL_FACES,
    counts_of,
    has_legal_faces,
    refuse_mixed_faces,
    with_faces,
)
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.formats.frame import Corners, Frame
from inspector.names import counted
from inspector.sequence.discovery.settings import frame_text
from inspector.surface.normals import area_vectors, face_normals, unit
from inspector.surface.triangles import EAR_CORNERS, FLAT_TURN, Triangles, triangulate


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[Triangles]:
    """Cut the reference frame's faces by ear clipping.

    Returns:
        A step whose `work` contains the triangles, as indices of the faces' corners.

    Raises:
        Refusal: No frame can be read, all faces are triangles, faces differ between frames, or a face isn't valid or
            can't be cut.
    """
    refuse_mixed_faces(context)
    reference, base = context.reference_frame, context.series.reference_facts
    if not has_legal_faces(reference):
        raise Refusal(ILLEGAL_FACES)
    larger = int((reference.corners.sizes > 3).sum())
    if not larger:
        raise Refusal("every face is already a triangle")
    triangles = triangulate(reference.corners, reference.positions)
    _refuse_crossed(reference, triangles)
    return Step(
        FIX.id,
        {"reference": frame_text(base.number)},
        all_numbers(context),
        f"cut {counted(larger, 'face')} into triangles, on every frame in the same way as on frame "
        f"{frame_text(base.number)}",
        (Change("faces of each frame", f"{reference.faces:,}", f"{len(triangles):,}"),),
        work=triangles,
    )


def _refuse_crossed(reference: Frame, triangles: Triangles) -> None:
    """Refuse faces that intersect themselves, and concave faces with too many corners for ear clipping.

    A face of either kind is recognised because at least one of its triangles is turned over.

    Raises:
        Refusal: There is a face of either kind.
    """
    areas = area_vectors(reference.positions, triangles)
    facing = face_normals(reference.positions, triangles, reference.faces)[triangles.face]
    sizes = reference.corners.sizes[triangles.face]
    over = (np.einsum("ti,ti->t", unit(areas), facing) < -FLAT_TURN) & (sizes > 3)
    if over.any():
        faces = np.unique(triangles.face[over])
        which, be = f"face {int(faces[0]) + 1}", "it is"
        if len(faces) > 1:
            which, be = f"{len(faces):,} faces, the first of which is {which},", "they are"
        raise Refusal(
            f"{which} can't be cut, because {be} self-intersecting, or concave with more than {EAR_CORNERS} corners"
        )


def edit_frame(frame: Frame, step: Step[Triangles], _: Fraction) -> Frame:
    cut, corners = step.work.corners.ravel(), frame.corners
    offsets = np.arange(0, len(cut) + 1, 3)
    fresh = Corners(offsets, corners.v[cut], corners.vt[cut], corners.vn[cut])
    return with_faces(frame, fresh, counts_of(frame.runs, step.work.face))


FIX = Fix(
    id="triangulate",
    title="Cut into triangles",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ADDS, DataChange.DROPS}),
    does="Cuts every face into triangles, by ear clipping on the reference frame and along the same lines on every "
    "other frame.",
    cost="Faces with more than three corners are lost: they are cut into triangles along estimated edges. If a face "
    "bends along a line other than these edges on some frames, its triangles form a crease on those frames."
    + FACE_COMMENTS,
    touches=frozenset({b"f", b"fo"}),
    claims=frozenset({Claim.FACES}),
    plan=plan,
    whole=True,
    edit_frame=edit_frame,
)
