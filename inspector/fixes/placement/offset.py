"""Move all frames by the same offset."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.parameters import answers, number_of, typed, word_of
from inspector.fixes.base.precision import needed_decimals, position_decimals
from inspector.fixes.base.preview import point_text, position_changes
from inspector.formats.frame import Frame

_AXES = ("x", "y", "z")
_TO_ORIGIN = "to=origin"


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[int]:
    """Take the offset from the parameters or, with `to=origin`, calculate it from the centre of the reference frame.

    Returns:
        A step whose `work` is the number of decimal places that positions need.

    Raises:
        Refusal: No offset is given, the offset is 0, a parameter is wrong, no frame can be read, or the reference frame
            has no bounding box.
    """
    base = context.series.reference_index
    if base is None:
        raise Refusal("no frame can be read")
    offset = _offset(context, base, parameters)
    if not offset.any():
        raise Refusal("an offset of 0 changes nothing")
    return Step(
        FIX.id,
        {**parameters, **dict(zip(_AXES, offset.tolist(), strict=True))},
        all_numbers(context),
        f"move every frame by {point_text(offset)} units",
        position_changes(context, base, lambda positions: positions + offset),
        work=needed_decimals(context.series),
    )


def _offset(context: CheckContext, base: int, parameters: Parameters) -> Floats:
    """Return the offset that the user or a plan gave, (3,), in scene units.

    With `to=origin`, return the offset that moves the centre of the reference frame to the origin. This offset is
    rounded to the frame's decimal places.

    Raises:
        Refusal: No offset is given, a parameter is wrong, or the reference frame has no bounding box.
    """
    given = [number_of(parameters, axis) for axis in _AXES]
    to_origin = word_of(parameters, "to", ("origin",)) is not None
    if any(value is not None for value in given):
        return np.array([value or 0.0 for value in given])
    if not to_origin:
        raise Refusal(
            f"no offset was given; use, for example, {typed(FIX.id, 'x=0,y=-1.5,z=0', _TO_ORIGIN)}",
            answers(FIX.id, _TO_ORIGIN),
        )
    centre = context.series.centres[base]
    if not np.isfinite(centre).all():
        raise Refusal("the reference frame has no positions")
    return np.asarray(-np.round(centre, context.series.facts[base].decimals) + 0.0)


def edit_frame(frame: Frame, step: Step[int], _: Fraction) -> Frame:
    offset = np.array([float(str(step.parameters[axis])) for axis in _AXES])
    return frame.replace(positions=frame.positions + offset, decimals=position_decimals(frame, step.work))


FIX = Fix(
    id="offset",
    title="Move all frames",
    kind=FixKind.ONE_CONSTANT,
    does="Adds the same offset to every position of every frame, before any scaling. The motion is unchanged.",
    cost="",
    touches=frozenset({b"v"}),
    claims=frozenset({Claim.OFFSET}),
    plan=plan,
    parameters={
        "x": "offset along x, in units of the source; default: 0",
        "y": "offset along y, in units of the source; default: 0",
        "z": "offset along z, in units of the source; default: 0",
        "to": (
            "origin (move the centre of the reference frame's bounding box to 0 0 0); required if no offset is given"
        ),
    },
    whole=True,
    edit_frame=edit_frame,
)
