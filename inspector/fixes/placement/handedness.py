"""Convert the scene between right-handed and left-handed coordinates."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.parameters import answers, typed, word_of
from inspector.fixes.base.preview import position_changes
from inspector.formats.frame import Corners, Frame

_AXES = ("x", "y", "z")


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[None]:
    """Read from the parameters which axis to reverse.

    Raises:
        Refusal: No valid axis is given, or no frame can be read.
    """
    base = context.series.reference_index
    if base is None:
        raise Refusal("no frame can be read")
    axis = word_of(parameters, "axis", _AXES)
    if axis is None:
        pairs = [f"axis={one}" for one in _AXES]
        raise Refusal(f"no axis to reverse was given; use {typed(FIX.id, *pairs)}", answers(FIX.id, *pairs))
    return Step(
        FIX.id,
        parameters,
        all_numbers(context),
        f"reverse the {axis} axis on every frame, and adjust faces and normals",
        position_changes(context, base, lambda points: mirrored(points, axis)),
        work=None,
    )


def mirrored(vectors: Floats, axis: str) -> Floats:
    """Return vectors with the sign of one coordinate reversed, (n, 3).

    Args:
        vectors: The vectors, (n, 3).
        axis: "x", "y" or "z".
    """
    fresh = vectors.copy()
    fresh[:, _AXES.index(axis)] = 0.0 - fresh[:, _AXES.index(axis)]
    return fresh


def reversed_corners(corners: Corners) -> Indices:
    """For each corner, return the index of the corner that replaces it if all faces are reversed, (c,).

    The first corner of each face stays first.
    """
    first, sizes = corners.offsets[:-1], corners.sizes
    place = np.arange(len(corners.v)) - np.repeat(first, sizes)
    size = np.repeat(sizes, sizes)
    return np.asarray(np.repeat(first, sizes) + (size - place) % np.maximum(size, 1))


def edit_frame(frame: Frame, step: Step[None], _: Fraction) -> Frame:
    """Mirror a frame. Its faces are also reversed, because mirroring makes counter-clockwise faces clockwise."""
    axis, corners = str(step.parameters["axis"]), frame.corners
    back = reversed_corners(corners)
    return frame.replace(
        positions=mirrored(frame.positions, axis),
        normals=mirrored(frame.normals, axis) if len(frame.normals) else None,
        corners=Corners(corners.offsets, corners.v[back], corners.vt[back], corners.vn[back]),
    )


FIX = Fix(
    id="handedness",
    title="Change the handedness",
    kind=FixKind.ONE_CONSTANT,
    does="Reverses one axis on all frames. The winding of the faces is reversed and the normals are adjusted, so "
    "that faces still point outwards.",
    cost="",
    touches=frozenset({b"v", b"vn", b"f", b"fo"}),
    claims=frozenset({Claim.HANDEDNESS, Claim.FACES}),
    plan=plan,
    parameters={"axis": "x, y or z: the axis whose direction differs between the exporting program and yours"},
    required=frozenset({"axis"}),
    whole=True,
    edit_frame=edit_frame,
)
