"""Shift back UV indices that are all off by the same constant."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector import limits
from inspector.arrays import SmallIndices
from inspector.checks.base.context import CheckContext
from inspector.checks.base.uv_compare import constant_shift
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.uvs import has_whole_uvs
from inspector.formats.frame import Corners, Frame
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[SmallIndices]:
    """Find the frames in which all UV indices are off by the same constant.

    The constant may differ between frames.

    Returns:
        A step whose `work` is the reference frame's UV index at each corner, (c,).

    Raises:
        Refusal: There is no such frame; shifting the indices back would not give the reference frame's coordinates; or
            a chosen frame has different faces, has UV indices that aren't all off by the same constant, doesn't exist,
            or can't be read.
    """
    if context.series.reference_index is None:
        raise Refusal("no frame can be read")
    reference, facts = context.reference_frame, context.series.facts
    wanted = _candidates(context) if frames is None else frames
    shifts: dict[int, int] = {}
    known: dict[tuple[bytes, bytes, bytes], int] = {}
    for index in readable_indices(context, wanted):
        state = (facts[index].topology, facts[index].uv_indices, facts[index].uv_values)
        if state not in known:
            known[state] = _shift(reference, context.frame(index), frame_text(facts[index].number))
        shifts[index] = known[state]
    if not shifts:
        raise Refusal("no frame has UV indices that all differ from the reference frame's by the same constant")
    by_number = {facts[index].number: shift for index, shift in shifts.items()}
    first, shift = next(iter(shifts.items()))
    label = f"frame {frame_text(facts[first].number)}, corner 1"
    found, right = int(context.frame(first).corners.vt[0]) + 1, int(reference.corners.vt[0]) + 1
    return Step(
        FIX.id,
        {"shifts": {frame_text(number): one for number, one in by_number.items()}},
        tuple(by_number),
        f"shift the UV indices of {numbers_text(by_number)} by "
        + (f"{-shift:+d}" if len(set(shifts.values())) == 1 else "a constant for each frame"),
        (Change(label, str(found), str(right)),),
        work=reference.corners.vt,
    )


def _candidates(context: CheckContext) -> tuple[Fraction, ...]:
    base = context.series.reference_facts
    indices = [
        index
        for index, one in enumerate(context.series.facts)
        if one.topology == base.topology and not one.faces_without_uvs and one.uv_indices != base.uv_indices
    ]
    return context.numbers(
        [index for index in indices if constant_shift(context.reference_frame, context.frame(index)) is not None]
    )


def _shift(reference: Frame, frame: Frame, number: str) -> int:
    """Return the constant by which the frame's UV indices are off.

    Raises:
        Refusal: The frames differ in their faces, a corner has no UV, the indices are not all off by the same constant,
            or shifting them back doesn't give the reference frame's coordinates at every corner.
    """
    ours, wanted = frame.corners, reference.corners
    if not (np.array_equal(ours.offsets, wanted.offsets) and np.array_equal(ours.v, wanted.v)):
        raise Refusal(f"the faces of frame {number} differ from those of the reference frame")
    if not has_whole_uvs(frame) or not has_whole_uvs(reference):
        raise Refusal(f"frame {number} or the reference frame has corners without UVs")
    shift = constant_shift(reference, frame)
    if shift is None:
        raise Refusal(
            f"the UV indices of frame {number} do not all differ from the reference frame's by the same constant"
        )
    kept = len(frame.uvs) > int(wanted.vt.max())
    if (
        not kept
        or not (np.abs(frame.uvs[wanted.vt, :2] - reference.uvs[wanted.vt, :2]) <= limits.UV_DIFFERENCE.value).all()
    ):
        raise Refusal(
            f"after the shift, the UV coordinates of frame {number} would still differ from the reference frame's"
        )
    return shift


def edit_frame(frame: Frame, step: Step[SmallIndices], _: Fraction) -> Frame:
    """Give a frame the reference frame's UV indices. The list of UVs is unchanged."""
    vt: SmallIndices = np.asarray(step.work, np.int32)
    corners = frame.corners
    return frame.replace(corners=Corners(corners.offsets, corners.v, vt, corners.vn))


FIX = Fix(
    id="uv-shift-back",
    title="Shift UV indices back",
    kind=FixKind.LOSSLESS,
    does="Subtracts the constant by which all UV indices of a frame differ from those of the reference frame.",
    cost="",
    touches=frozenset({b"f", b"fo"}),
    claims=frozenset({Claim.UVS}),
    plan=plan,
    edit_frame=edit_frame,
)
