"""Remove normals from frames."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.formats.frame import ABSENT, Corners, Frame
from inspector.formats.wavefront.writer import write_frame
from inspector.sequence.discovery.frame_ranges import numbers_text


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[None]:
    """Find the frames that have normals.

    Raises:
        Refusal: There is no such frame, or a chosen frame doesn't exist or can't be read.
    """
    facts = context.series.facts
    wanted = tuple(dict.fromkeys(one.number for one in facts if one.filled)) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if facts[index].normals]
    if not indices:
        raise Refusal("no frame has normals" if frames is None else "the chosen frames have no normals")
    first = context.frame(indices[0])
    saved = len(first.data) - len(write_frame(without_normals(first)))
    numbers = context.numbers(indices)
    return Step(
        FIX.id,
        {"bytes by which the first file shrinks": saved},
        numbers,
        f"drop the normals of {numbers_text(numbers)}, which saves {saved:,} of {len(first.data):,} bytes per file"
        + (" (measured in the first file)" if len(indices) > 1 else ""),
        (Change("normals", f"{facts[indices[0]].normals:,}", "0"),),
        work=None,
    )


def without_normals(frame: Frame) -> Frame:
    corners = frame.corners
    bare = Corners(corners.offsets, corners.v, corners.vt, np.full_like(corners.vn, ABSENT))
    return frame.replace(normals=np.empty((0, 3)), corners=bare)


def edit_frame(frame: Frame, _: Step[None], __: Fraction) -> Frame:
    return without_normals(frame)


FIX = Fix(
    id="drop-normals",
    title="Drop the normals",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.DROPS}),
    does="Removes the normals. The importer then computes normals from the faces.",
    cost="The exported normals are lost, including the hard edges that only they record.",
    touches=frozenset({b"vn", b"f", b"fo"}),
    claims=frozenset({Claim.NORMALS}),
    plan=plan,
    edit_frame=edit_frame,
)
