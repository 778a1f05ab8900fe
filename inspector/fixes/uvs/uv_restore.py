"""Restore the UV indices and coordinates of the reference frame."""

from __future__ import annotations

from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.uvs import (
    UvSet,
    apply_uv_set,
    has_whole_uvs,
    refuse_other_faces,
    uv_changes,
    uv_set_of,
    uv_summary,
)
from inspector.sequence.discovery.settings import frame_text


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[UvSet]:
    """Find the frames that have the reference frame's faces but different UVs.

    Raises:
        Refusal: There is no such frame, the reference frame has corners without UVs, or a chosen frame has different
            faces, doesn't exist or can't be read.
    """
    series = context.series
    if series.reference_index is None:
        raise Refusal("no frame can be read")
    reference = context.reference_frame
    name = f"reference frame {frame_text(series.reference_facts.number)}"
    if not has_whole_uvs(reference):
        raise Refusal(f"{name} has {'corners without' if len(reference.uvs) else 'no'} UVs")
    wanted = _differing(context) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if index != series.reference_index]
    if not indices:
        raise Refusal("every frame with the same faces as the reference frame already has the same UVs")
    refuse_other_faces(context, reference, name, indices)
    given = uv_set_of(reference)
    numbers = context.numbers(indices)
    return Step(
        FIX.id,
        {"reference": frame_text(series.reference_facts.number)},
        numbers,
        uv_summary(numbers, f"frame {frame_text(series.reference_facts.number)}"),
        uv_changes(context, indices[0], given),
        work=given,
    )


def _differing(context: CheckContext) -> tuple[Fraction, ...]:
    base = context.series.reference_facts
    return tuple(
        dict.fromkeys(
            one.number
            for one in context.series.facts
            if one.filled
            and (one.vertices, one.topology) == (base.vertices, base.topology)
            and (one.uv_indices, one.uv_values) != (base.uv_indices, base.uv_values)
        )
    )


FIX = Fix(
    id="uv-restore",
    title="Restore UVs from the reference",
    kind=FixKind.LOSSLESS,
    does="Copies the UV coordinates of the reference frame, and its UV index at every corner, to frames with the "
    "same faces.",
    cost="",
    touches=frozenset({b"vt", b"f", b"fo"}),
    claims=frozenset({Claim.UVS}),
    plan=plan,
    edit_frame=apply_uv_set,
)
