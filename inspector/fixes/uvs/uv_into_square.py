"""Move UVs into the unit square, and scale them to suit the proportions of the texture."""

from __future__ import annotations

import math

import numpy as np

from inspector import limits
from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.parameters import aspect_of, number_of
from inspector.fixes.base.uv_move import UvMove, apply_move, fit_of, gathered, move_step
from inspector.formats.frame import ABSENT, Frame
from inspector.lettering.maps_fit import MAP_SQUEEZE
from inspector.lettering.texture_fit import TextureFit

_COMPUTED = "computed from all frames or, if another scale or shift is given,"
_CONSTANTS = ("scale_u", "scale_v", "shift_u", "shift_v")


def plan(context: CheckContext, parameters: Parameters, _: object) -> Step[UvMove]:
    """Find the scale and shift, from the parameters or from all frames.

    Raises:
        Refusal: There are no UVs, the UVs have zero area, materials need different aspect ratios, a parameter is wrong,
            or the UVs would not change.
    """
    fit = fit_of(context)
    given = [number_of(parameters, key) for key in _CONSTANTS]
    if any(value is not None for value in given):
        scale_u, scale_v, shift_u, shift_v = (
            value if value is not None else default for value, default in zip(given, (1.0, 1.0, 0.0, 0.0), strict=True)
        )
        scale, shift = np.array([scale_u, scale_v]), np.array([shift_u, shift_v])
        if not (scale > 0.0).all():
            raise Refusal("scale_u and scale_v must be above 0")
    else:
        scale, shift = _fitted(context, fit, aspect_of(parameters) or 1.0)
    if np.abs(scale - 1.0).max() <= limits.UV_DIFFERENCE.value and np.abs(shift).max() <= limits.UV_DIFFERENCE.value:
        raise Refusal(
            "the given factors and offsets would not change the UVs"
            if any(value is not None for value in given)
            else "the UVs are already as large as the unit square allows for a texture with this aspect ratio"
        )
    constants = dict(zip(_CONSTANTS, [*scale.tolist(), *shift.tolist()], strict=True))
    return move_step(
        context,
        FIX.id,
        {**parameters, **constants},
        UvMove(np.diag(scale), shift),
        f"scale all UVs by {scale[0]:.6g} in u and {scale[1]:.6g} in v, then move them by {shift[0]:.6g} in u and "
        f"{shift[1]:.6g} in v",
    )


def _fitted(context: CheckContext, fit: TextureFit, aspect: float) -> tuple[Floats, Floats]:
    """Find the scale and shift, (2,) each, that centre the bounding box of all UVs in the unit square and make it as
    large as possible.

    The scaled UVs must require a texture with the given aspect. Multiplying v by r relative to u multiplies the
    required aspect by r; therefore, r is the given aspect divided by the aspect that the UVs require now.

    Raises:
        Refusal: Materials need different aspect ratios, or the UVs have zero area.
    """
    wanted = [region.wanted_aspect for region in fit.materials]
    if max(wanted) > MAP_SQUEEZE * min(wanted):
        raise Refusal(
            f"materials need textures with different aspect ratios ({min(wanted):.2f} to {max(wanted):.2f}), so no "
            "single change of the UVs fits them all"
        )
    low, high = _box(context)
    if not (high > low).all():
        raise Refusal("the UVs have zero area, so no texture can be fitted to the surface")
    ratio = aspect / math.exp(sum(map(math.log, wanted)) / len(wanted))
    side = min(1.0 / (high[0] - low[0]), 1.0 / (ratio * (high[1] - low[1])))
    scale = np.array([side, ratio * side])
    return scale, 0.5 - scale * (low + high) / 2.0


def _box(context: CheckContext) -> tuple[Floats, Floats]:
    boxes = np.array(gathered(context, _used_box))
    return boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)


def _used_box(frame: Frame) -> Floats:
    """Return the smallest and the largest u and v of the finite UVs that faces use, (2, 2); inf and -inf if there are
    none."""
    used = frame.uvs[frame.corners.vt[frame.corners.vt != ABSENT], :2]
    used = used[np.isfinite(used).all(axis=1)]
    return np.array([used.min(axis=0, initial=np.inf), used.max(axis=0, initial=-np.inf)])


FIX = Fix(
    id="uv-into-square",
    title="Fit UVs into the unit square",
    kind=FixKind.ONE_CONSTANT,
    does="Scales and moves all UVs of all frames by the same amounts, so that they are in the unit square and a "
    "texture with the stated aspect ratio is not squeezed. A texture made for the old UVs no longer fits.",
    cost="",
    touches=frozenset({b"vt"}),
    claims=frozenset({Claim.UV_PROPORTION, Claim.UV_ROTATION}),
    plan=plan,
    parameters={
        "aspect": "width over height of the texture; default: 1, a square texture",
        "scale_u": f"factor for u, as stored in a saved plan; default: {_COMPUTED} 1",
        "scale_v": f"factor for v; default: {_COMPUTED} 1",
        "shift_u": f"offset added to u after scaling; default: {_COMPUTED} 0",
        "shift_v": f"offset added to v after scaling; default: {_COMPUTED} 0",
    },
    whole=True,
    edit_frame=apply_move,
)
