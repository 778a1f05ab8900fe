"""Rotate all frames from one up axis to the other."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.parameters import answers, typed, word_of
from inspector.fixes.base.preview import position_changes
from inspector.formats.frame import Frame


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[None]:
    """Read the new up axis from the parameters.

    Raises:
        Refusal: No valid axis is given, or no frame can be read.
    """
    base = context.series.reference_index
    if base is None:
        raise Refusal("no frame can be read")
    to = word_of(parameters, "to", ("y", "z"))
    if to is None:
        pairs = "to=y", "to=z"
        raise Refusal(f"no new up axis was given; use {typed(FIX.id, *pairs)}", answers(FIX.id, *pairs))
    return Step(
        FIX.id,
        parameters,
        all_numbers(context),
        f"rotate every frame by 90 degrees about the x axis, so that {'y' if to == 'z' else 'z'} up becomes {to} up",
        position_changes(context, base, lambda points: turned(points, to)),
        work=None,
    )


def turned(vectors: Floats, to: str) -> Floats:
    """Return vectors rotated about x by 90 degrees, (n, 3), without rounding.

    Args:
        vectors: The vectors, (n, 3).
        to: "z" rotates y to z; "y" rotates z to y.
    """
    x, y, z = vectors.T
    return np.stack([x, 0.0 - z, y] if to == "z" else [x, z, 0.0 - y], axis=-1)


def edit_frame(frame: Frame, step: Step[None], _: Fraction) -> Frame:
    to = str(step.parameters["to"])
    normals = turned(frame.normals, to) if len(frame.normals) else None
    return frame.replace(positions=turned(frame.positions, to), normals=normals)


FIX = Fix(
    id="up-axis",
    title="Change the up axis",
    kind=FixKind.ONE_CONSTANT,
    does="Rotates positions and normals of all frames by 90 degrees about the x axis, so that y up becomes z up, or "
    "the reverse. Nothing is mirrored.",
    cost="",
    touches=frozenset({b"v", b"vn"}),
    claims=frozenset({Claim.UP_AXIS}),
    plan=plan,
    parameters={"to": "z: convert from y up to z up; y: convert from z up to y up"},
    required=frozenset({"to"}),
    whole=True,
    edit_frame=edit_frame,
)
