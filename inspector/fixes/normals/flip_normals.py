"""Reverse all normals of frames in which most normals point to the backs of their faces."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.preview import normal_changes
from inspector.formats.frame import ABSENT, Frame
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.surface.normals import face_normals
from inspector.surface.triangles import triangulate


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[None]:
    """Find the frames in which most normals point to the backs of their faces, or use the frames that the user chose.

    Raises:
        Refusal: There is no such frame, no chosen frame has normals, or a chosen frame doesn't exist or can't be read.
    """
    facts = context.series.facts
    wanted = tuple(dict.fromkeys(one.number for one in facts if one.filled)) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if facts[index].normals]
    if frames is None:
        indices = [index for index in indices if share_against(context.frame(index)) > 0.5]
    if not indices:
        raise Refusal(
            "there is no frame on which most normals point to the backs of the faces"
            if frames is None
            else "the chosen frames have no normals"
        )
    numbers = context.numbers(indices)
    return Step(
        FIX.id,
        {},
        numbers,
        f"reverse the normals of {numbers_text(numbers)}",
        normal_changes(context, indices[0], _turned),
        work=None,
    )


def share_against(frame: Frame) -> float:
    """Return the share of corners whose normal points to the back of the corner's face, from 0 to 1.

    Corners without a normal or a vertex don't count. The share is 0 if no corner counts.
    """
    corners = frame.corners
    given = np.flatnonzero((corners.vn != ABSENT) & (corners.v != ABSENT))
    if not len(given):
        return 0.0
    facing = face_normals(frame.positions, triangulate(corners, frame.positions), frame.faces)
    along = np.einsum("ci,ci->c", facing[corners.face_of_corner()[given]], frame.normals[corners.vn[given]])
    return float((along < 0.0).mean())


def _turned(normals: Floats) -> Floats:
    return np.asarray(0.0 - normals)


def edit_frame(frame: Frame, _: Step[None], __: Fraction) -> Frame:
    return frame.replace(normals=_turned(frame.normals))


FIX = Fix(
    id="flip-normals",
    title="Reverse the normals",
    kind=FixKind.LOSSLESS,
    does="Reverses all normals of the frames on which most normals point to the backs of the faces, or of the frames "
    "that you choose.",
    cost="",
    touches=frozenset({b"vn"}),
    claims=frozenset({Claim.NORMALS}),
    plan=plan,
    edit_frame=edit_frame,
)
