"""Reverse faces that have the opposite orientation in the reference frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.arrays import Indices
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.formats.frame import Corners, Frame
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text


@dataclass(frozen=True, slots=True, eq=False)
class FlippedFaces:
    """The faces that the fix gives to frames.

    Attributes:
        faces: Faces of the reference frame.
        corners: Frame number -> index of the frame's corner for each corner of the reference frame, (c,).
    """

    faces: Corners
    corners: Mapping[Fraction, Indices]


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[FlippedFaces]:
    """Find the frames that have the reference frame's faces, some of them reversed.

    Raises:
        Refusal: There is no such frame, or a chosen frame has different faces, doesn't exist or can't be read.
    """
    series = context.series
    if series.reference_index is None:
        raise Refusal("no frame can be read")
    base, reference = series.reference_facts, context.reference_frame
    wanted = _candidates(context) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if series.facts[index].topology != base.topology]
    if not indices:
        raise Refusal("no frame has faces that are reversed relative to the reference frame")
    turned: dict[Fraction, Indices] = {}
    for index in indices:
        number = series.facts[index].number
        corners = turned_corners(reference.corners, context.frame(index).corners)
        if corners is None:
            raise Refusal(
                f"the faces of frame {frame_text(number)} differ from those of the reference frame in more than their "
                "orientation"
            )
        turned[number] = corners
    first = context.frame(indices[0]).corners
    faces = len(first.faces_with(first.v != reference.corners.v))
    return Step(
        FIX.id,
        {"reference": frame_text(base.number)},
        tuple(turned),
        f"reverse flipped faces of {numbers_text(turned)}, to match frame {frame_text(base.number)}",
        (Change(f"frame {frame_text(next(iter(turned)))}", f"{count_of(faces, 'face')} reversed", "none"),),
        work=FlippedFaces(reference.corners, turned),
    )


def _candidates(context: CheckContext) -> tuple[Fraction, ...]:
    base = context.series.reference_facts
    indices = [
        index
        for index, one in enumerate(context.series.facts)
        if one.filled and (one.vertices, one.faces) == (base.vertices, base.faces) and one.topology != base.topology
    ]
    return context.numbers(
        [
            index
            for index in indices
            if turned_corners(context.reference_frame.corners, context.frame(index).corners) is not None
        ]
    )


def turned_corners(wanted: Corners, found: Corners) -> Indices | None:
    """Find the frame's corner for each corner of the reference frame.

    The faces must be the same and in the same order, but each may be reversed, and may start at a different corner. A
    face that fits in both directions keeps its direction.

    Args:
        wanted: Faces of the reference frame.
        found: Faces of the frame.

    Returns:
        Index of the frame's corner for each corner of the reference frame, (c,); None if the meshes don't match.
    """
    if not np.array_equal(wanted.offsets, found.offsets):
        return None
    source = np.full(len(wanted.v), -1)
    for size in np.unique(wanted.sizes).tolist():
        at = wanted.offsets[:-1][wanted.sizes == size]
        turn = np.arange(size)
        ring = wanted.v[at[:, None] + turn]
        for start in range(size):
            for step in (-1, 1):
                corner = at[:, None] + (start + step * turn) % size
                same = (found.v[corner] == ring).all(axis=1)
                source[(at[:, None] + turn)[same]] = corner[same]
    return source if bool((source >= 0).all()) else None


def edit_frame(frame: Frame, step: Step[FlippedFaces], number: Fraction) -> Frame:
    """Give a frame the reference frame's faces. UVs and normals stay with their vertices."""
    source, faces = step.work.corners[number], step.work.faces
    return frame.replace(
        corners=Corners(faces.offsets, faces.v, frame.corners.vt[source], frame.corners.vn[source]),
    )


FIX = Fix(
    id="flip-winding",
    title="Reverse flipped faces",
    kind=FixKind.LOSSLESS,
    does="Reverses faces that have the opposite orientation in the reference frame. UVs and normals stay with their "
    "vertices.",
    cost="",
    touches=frozenset({b"f", b"fo"}),
    claims=frozenset({Claim.FACES}),
    plan=plan,
    edit_frame=edit_frame,
)
