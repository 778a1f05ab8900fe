"""Rotate UVs by quarter turns, so that lettering reads upright."""

from __future__ import annotations

import numpy as np

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.parameters import typed, word_of
from inspector.fixes.base.uv_move import UvMove, apply_move, fit_of, move_step

_QUARTERS = ("90", "180", "270")


def plan(context: CheckContext, parameters: Parameters, _: object) -> Step[UvMove]:
    """Find the quarter turn that makes lettering upright, or use the given turn.

    Raises:
        Refusal: There are no UVs, the UVs have zero area, or the given angle is wrong; or no angle is given, and
            lettering is upright or mirrored, runs in all directions, or is rotated differently on different materials.
    """
    stated = word_of(parameters, "degrees", _QUARTERS)
    fit = fit_of(context)
    if stated is None:
        readings = [region.reading for region in fit.materials]
        stated = _needed({_quarter(reading.turned) for reading in readings})
        if any(reading.reads_mirrored for reading in readings):
            raise Refusal(f"lettering reads backwards; mirror the UVs first (`uv-mirror`), or use {_angles()}")
        if any(reading.words == "in all directions" for reading in readings):
            raise Refusal(
                "lettering runs in all directions, so no rotation makes all of it upright; to rotate the UVs "
                f"anyway, use {_angles()}"
            )
    return move_step(
        context,
        FIX.id,
        {**parameters, "degrees": int(stated)},
        _turned(int(stated)),
        f"rotate all UVs by {stated} degrees counter-clockwise about the centre of the texture",
    )


def _quarter(degrees: float) -> int:
    return round(degrees / 90) * 90 % 360


def _needed(quarters: set[int]) -> str:
    """Return the rotation of the UVs, in degrees, that makes lettering upright.

    This rotation is equal to the angle of the lettering, because rotating UVs rotates the texture in the opposite
    direction on the surface. `quarters` are the angles of lettering on all materials, in degrees, rounded to multiples
    of 90 degrees.

    Raises:
        Refusal: Lettering is upright, or rotated differently on different materials.
    """
    if quarters == {0}:
        raise Refusal(f"lettering is upright to within 45 degrees; to rotate the UVs anyway, use {_angles()}")
    if len(quarters) > 1:
        raise Refusal(
            "lettering is rotated by different angles on different materials, so no single rotation makes it upright "
            f"on all of them; to rotate the UVs anyway, use {_angles()}"
        )
    return str(quarters.pop())


def _angles() -> str:
    return typed(FIX.id, *(f"degrees={angle}" for angle in _QUARTERS))


def _turned(degrees: int) -> UvMove:
    """Return the affine map that rotates UVs to the left about (0.5, 0.5) by 90, 180 or 270 degrees. The matrix of the
    map consists of whole numbers."""
    cosine, sine = {90: (0.0, 1.0), 180: (-1.0, 0.0), 270: (0.0, -1.0)}[degrees]
    matrix = np.array([[cosine, -sine], [sine, cosine]])
    return UvMove(matrix, 0.5 - matrix @ (0.5, 0.5))


FIX = Fix(
    id="uv-turn",
    title="Rotate the UVs",
    kind=FixKind.ONE_CONSTANT,
    does="Rotates all UVs of all frames by the same multiple of 90 degrees, so that lettering is upright. On the "
    "surface, a texture made for the old UVs then appears rotated.",
    cost="",
    touches=frozenset({b"vt"}),
    claims=frozenset({Claim.UV_ROTATION}),
    plan=plan,
    parameters={
        "degrees": "90, 180 or 270 degrees counter-clockwise; default: the rotation that makes lettering upright"
    },
    whole=True,
    edit_frame=apply_move,
)
