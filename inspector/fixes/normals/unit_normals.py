"""Scale normals to length 1."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.preview import normal_changes
from inspector.formats.frame import Frame
from inspector.formats.wavefront.writer import decimals_of
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.surface.normals import unit

_DECIMALS = 6
_OFF = 2e-3  # rounding a unit vector to three decimal places changes its length by at most sqrt(3) / 2 * 10^-3


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[None]:
    """Find the frames with normals whose length isn't 1.

    Raises:
        Refusal: There is no such frame, such a frame has a normal of length 0, or a chosen frame doesn't exist or can't
            be read.
    """
    facts = context.series.facts
    wanted = tuple(dict.fromkeys(one.number for one in facts if one.filled)) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if _off(context.frame(index).normals).any()]
    if not indices:
        raise Refusal("every normal has length 1")
    for index in indices:
        none = np.flatnonzero(~unit(context.frame(index).normals).any(axis=1))
        if len(none):
            number = frame_text(facts[index].number)
            which = f"normal {int(none[0]) + 1} has length 0 and"
            if len(none) > 1:
                which = f"{len(none):,} normals, the first of which is normal {int(none[0]) + 1}, have length 0 and"
            raise Refusal(f"frame {number}: {which} can't be scaled")
    numbers = context.numbers(indices)
    return Step(
        FIX.id,
        {},
        numbers,
        f"scale the normals of {numbers_text(numbers)} to length 1",
        normal_changes(context, indices[0], unit),
        work=None,
    )


def _off(normals: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """For each normal, return whether its length differs from 1 by more than _OFF or isn't a number, (k,)."""
    with np.errstate(over="ignore"):  # lengths beyond 1e154 overflow, and aren't 1 either
        return np.asarray(~(np.abs(np.linalg.norm(normals, axis=1) - 1.0) <= _OFF))


def edit_frame(frame: Frame, _: Step[None], __: Fraction) -> Frame:
    return frame.replace(normals=unit(frame.normals), decimals={b"vn": max(decimals_of(frame, b"vn"), _DECIMALS)})


FIX = Fix(
    id="unit-normals",
    title="Scale normals to length 1",
    kind=FixKind.LOSSLESS,
    does="Divides every normal by its length. Directions are unchanged. The length of a normal has no meaning in the "
    "format, so nothing is lost.",
    cost="",
    touches=frozenset({b"vn"}),
    claims=frozenset({Claim.NORMALS}),
    plan=plan,
    edit_frame=edit_frame,
)
