"""Mirror UVs, so that lettering doesn't read backwards."""

from __future__ import annotations

import numpy as np

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.parameters import typed, word_of
from inspector.fixes.base.uv_move import UvMove, apply_move, fit_of, move_step

_AXES = ("u", "v")


def plan(context: CheckContext, parameters: Parameters, _: object) -> Step[UvMove]:
    """Find the axis along which to mirror the UVs.

    Raises:
        Refusal: There are no UVs, the UVs have zero area, or the axis is wrong; or no axis is given, and there is a
            material on which lettering doesn't read backwards.
    """
    stated = word_of(parameters, "axis", _AXES)
    fit = fit_of(context)
    if stated is None and not all(region.reading.reads_mirrored for region in fit.materials):
        right = min(fit.materials, key=lambda region: region.reading.mirrored)
        several = len(fit.materials) > 1 and right.material is not None
        where = f"surface with the material `{right.material}`" if several else "surface"
        raise Refusal(
            f"lettering does not read backwards (only {right.reading.mirrored:.0%} of the {where} is mirrored); to "
            f"mirror the UVs anyway, use {typed(FIX.id, *(f'axis={axis}' for axis in _AXES))}"
        )
    axis = stated or "u"
    sides = "left and right" if axis == "u" else "top and bottom"
    return move_step(
        context,
        FIX.id,
        {**parameters, "axis": axis},
        _mirrored(axis),
        f"mirror all UVs, which swaps the {sides} of the texture",
    )


def _mirrored(axis: str) -> UvMove:
    """Return the affine map that reverses one axis, "u" or "v", about the middle of the unit square."""
    across = np.array([name == axis for name in _AXES], float)
    return UvMove(np.diag(1.0 - 2.0 * across), across)


FIX = Fix(
    id="uv-mirror",
    title="Mirror the UVs",
    kind=FixKind.ONE_CONSTANT,
    does="Mirrors every UV of every frame, so that lettering does not read backwards. A texture made for the old UVs "
    "is then mirrored.",
    cost="",
    touches=frozenset({b"vt"}),
    claims=frozenset({Claim.UV_MIRRORING}),
    plan=plan,
    parameters={
        "axis": (
            "u (swaps left and right) or v (swaps top and bottom); default: u if lettering reads backwards; otherwise, "
            "the axis must be given"
        )
    },
    whole=True,
    edit_frame=apply_move,
)
