"""Take UVs from a donor file with the same faces."""

from __future__ import annotations

from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.fixes.base.fix import Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.uvs import (
    UvSet,
    apply_uv_set,
    donor_of,
    frames_without_uvs,
    refuse_other_faces,
    uv_changes,
    uv_set_of,
    uv_summary,
)
from inspector.names import safe


def plan(context: CheckContext, parameters: Parameters, frames: tuple[Fraction, ...] | None) -> Step[UvSet]:
    """Read the donor, and find the frames that have corners without UVs.

    Raises:
        Refusal: No donor is named, it has no UVs or other faces, or every frame has UVs.
        MeshqcError: The donor can't be read.
    """
    path, donor = donor_of(context, parameters)
    name = safe(path.name)
    indices = frames_without_uvs(context, frames)
    refuse_other_faces(context, donor, name, indices)
    given, numbers = uv_set_of(donor), context.numbers(indices)
    return Step(
        FIX.id,
        {"from": str(path.absolute())},
        numbers,
        uv_summary(numbers, name),
        uv_changes(context, indices[0], given),
        work=given,
    )


FIX = Fix(
    id="uv-donor",
    title="UVs from a donor file",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ADDS}),
    does="Copies the UVs of another mesh file that has the same faces with the same vertex indices.",
    cost="The UVs come from another file; that they belong to these frames is concluded from the equal faces.",
    touches=frozenset({b"vt", b"f", b"fo"}),
    claims=frozenset({Claim.UVS}),
    plan=plan,
    parameters={"from": "mesh file with the same faces that has UVs"},
    path="from",
    edit_frame=apply_uv_set,
)
