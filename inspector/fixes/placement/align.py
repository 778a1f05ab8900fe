"""Move all frames so that the reference frame's bounding box is centred at the origin or is on the ground."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.parameters import answers, typed, word_of
from inspector.fixes.base.precision import needed_decimals, position_decimals
from inspector.fixes.base.preview import point_text, position_changes
from inspector.formats.frame import Frame

CENTRE, GROUND = "centre", "ground"
_UP = {"y": 1, "z": 2}
_ON_GROUND = tuple(f"at={GROUND},up={up}" for up in _UP)
_RESULTS = {CENTRE: "centred at the origin", GROUND: "on the ground"}


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[tuple[Floats, int]]:
    """Find the offset that moves the centre of the reference frame's bounding box to the origin.

    With `at=ground`, the offset instead moves the centre of the bottom of the bounding box to the origin.

    Returns:
        A step whose `work` is the offset, (3,), in scene units, and the number of decimal places that positions need.

    Raises:
        Refusal: A parameter is missing or wrong, no frame can be read, or the reference frame has no bounding box or is
            already in position.
    """
    base = context.series.reference_index
    if base is None:
        raise Refusal("no frame can be read")
    at, up = word_of(parameters, "at", (CENTRE, GROUND)), word_of(parameters, "up", tuple(_UP))
    if at is None:
        pairs = f"at={CENTRE}", *_ON_GROUND
        raise Refusal(f"no new position was given; use {typed(FIX.id, *pairs)}", answers(FIX.id, *pairs))
    if at == GROUND and up is None:
        raise Refusal(
            f"the format does not state the up axis; use {typed(FIX.id, *_ON_GROUND)}", answers(FIX.id, *_ON_GROUND)
        )
    offset = _offset(context, base, None if at == CENTRE else _UP[str(up)])
    if not offset.any():
        raise Refusal(f"the reference frame is already {_RESULTS[at]}")
    return Step(
        FIX.id,
        {**parameters, "offset": offset.tolist()},
        all_numbers(context),
        f"move every frame by {point_text(offset)} units, so that the reference frame is {_RESULTS[at]}",
        position_changes(context, base, lambda positions: positions + offset),
        work=(offset, needed_decimals(context.series)),
    )


def _offset(context: CheckContext, base: int, up: int | None) -> Floats:
    """Return the vector, (3,), in scene units, that moves the centre of the reference frame's bounding box to the
    origin.

    The vector is rounded to the decimal places of the reference frame. If `up`, the index of the up axis, is given, the
    vector moves the centre of the box's bottom to the origin instead.

    Raises:
        Refusal: The reference frame has no bounding box.
    """
    low, centre = context.series.boxes[base, 0], context.series.centres[base].copy()
    if not np.isfinite(centre).all():
        raise Refusal("the reference frame has no bounding box")
    if up is not None:
        centre[up] = low[up]
    return np.asarray(-np.round(centre, context.series.facts[base].decimals) + 0.0)


def edit_frame(frame: Frame, step: Step[tuple[Floats, int]], _: Fraction) -> Frame:
    offset, needed = step.work
    return frame.replace(positions=frame.positions + offset, decimals=position_decimals(frame, needed))


FIX = Fix(
    id="align",
    title="Centre, or place on the ground",
    kind=FixKind.ONE_CONSTANT,
    does="Moves all frames by the same offset, so that the reference frame's bounding box, or the bottom of this box, "
    "is centred at the origin. The motion is unchanged.",
    cost="",
    touches=frozenset({b"v"}),
    claims=frozenset({Claim.OFFSET}),
    plan=plan,
    parameters={
        "at": "the point to move to the origin: centre (of the bounding box) or ground (the centre of its bottom)",
        "up": "up axis, y or z; required with at=ground",
    },
    required=frozenset({"at"}),
    whole=True,
    edit_frame=edit_frame,
)
