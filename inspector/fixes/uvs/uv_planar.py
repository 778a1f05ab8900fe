"""Compute UVs by projection along one axis."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.parameters import typed, word_of
from inspector.fixes.base.uvs import (
    UV_DECIMALS,
    UvSet,
    apply_uv_set,
    colour_map_aspect,
    frames_for_uvs,
    refuse_other_faces,
    uv_changes,
    with_uvs,
)
from inspector.formats.frame import ABSENT, Frame
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.surface.normals import area_vectors
from inspector.surface.shapes import face_areas
from inspector.surface.triangles import triangulate
from inspector.surface.uv_layout import COLLAPSED_SHARE, lay_out

OWN, FILL = "own", "fill"

_AXES = "xyz"
_SIDES: dict[tuple[int, bool], tuple[tuple[int, int], tuple[int, int]]] = {
    (0, True): ((2, -1), (1, 1)),
    (0, False): ((2, 1), (1, 1)),
    (1, True): ((0, 1), (2, -1)),
    (1, False): ((0, 1), (2, 1)),
    (2, True): ((0, 1), (1, 1)),
    (2, False): ((0, -1), (1, 1)),
}
"""The axes and signs of the coordinates that become u and v, for each view. The key of a view is a pair: the index of
its axis, and whether the view is from the positive end of that axis. Lettering is not mirrored. The top of the texture
is towards -z in the view from +y, towards +z in the view from -y, and towards +y in all other views."""


def plan(context: CheckContext, parameters: Parameters, frames: tuple[Fraction, ...] | None) -> Step[UvSet]:
    """Project the reference frame along the given axis or, by default, the axis along which most of the surface is
    visible.

    Raises:
        Refusal: No frame can be read; the reference frame has no faces, has a corner without a vertex, has a position
            that is not finite, or is a line when seen along the axis; no axis is given, and too much of the surface is
            edge-on; a parameter is wrong; faces differ between frames; or all chosen frames are empty, or a chosen
            frame doesn't exist or can't be read.
    """
    series = context.series
    if series.reference_index is None:
        raise Refusal("no frame can be read")
    axis, fit = word_of(parameters, "axis", tuple(_AXES)), word_of(parameters, "fit", (OWN, FILL)) or OWN
    number = frame_text(series.reference_facts.number)
    indices = frames_for_uvs(context, frames)
    reference = context.reference_frame
    refuse_other_faces(context, reference, f"reference frame {number}", indices)
    areas = _areas(reference)
    along = int(np.abs(areas).sum(axis=0).argmax()) if axis is None else _AXES.index(axis)
    positive = bool(areas[:, along].sum() >= 0.0)
    aspect = colour_map_aspect(context) or 1.0
    given = UvSet(_projected(reference, along, positive, fit, aspect), reference.corners.v, UV_DECIMALS)
    if axis is None:
        _refuse_collapsed(reference, given, along)
    numbers = context.numbers(indices)
    return Step(
        FIX.id,
        {**parameters, "axis": _AXES[along], "fit": fit},
        numbers,
        f"project UVs for {numbers_text(numbers)} from frame {number} along {'-' if positive else '+'}{_AXES[along]}; "
        + _losses(areas, along, positive),
        uv_changes(context, indices[0], given),
        work=given,
    )


def _areas(reference: Frame) -> Floats:
    """Return the area vectors of the reference frame's triangles, (t, 3), in scene units squared.

    Raises:
        Refusal: There are no faces, a corner has no vertex, or a position is not finite.
    """
    corners = reference.corners
    if not reference.faces or (corners.v == ABSENT).any() or not np.isfinite(reference.positions).all():
        raise Refusal(
            "the reference frame has no faces, has a coordinate that is not a finite number, or has a corner without a "
            "vertex"
        )
    return area_vectors(reference.positions, triangulate(corners, reference.positions))


def _projected(reference: Frame, along: int, positive: bool, fit: str, aspect: float) -> Floats:
    """Project the vertices so that all faces are in the unit square. Return one UV for each vertex, (n, 2).

    Args:
        reference: The reference frame.
        along: Index of the axis of the view.
        positive: Whether the view is from the positive end of the axis.
        fit: FILL to fill the square, or OWN to keep the proportions of the surface. With OWN, the UVs are centred, and
            are as large as possible.
        aspect: Width over height of the texture.

    Raises:
        Refusal: The faces are a line when seen along the axis.
    """
    (column, turn), (row, tilt) = _SIDES[along, positive]
    flat = reference.positions[:, [column, row]] * [turn, tilt]
    used = flat[reference.corners.v]
    low, high = used.min(axis=0), used.max(axis=0)
    extent = high - low
    if not (extent > 0.0).all():
        raise Refusal(
            f"seen along {_AXES[along]}, the reference frame is a line, so no texture fits it; choose a different axis"
        )
    side = extent if fit == FILL else max(extent[0] / aspect, extent[1]) * np.array([aspect, 1.0])
    return np.asarray(np.round((flat - (low + high) / 2.0) / side + 0.5, UV_DECIMALS))


def _refuse_collapsed(reference: Frame, given: UvSet, along: int) -> None:
    """Refuse the projection if more of the surface is edge-on than the check `uv-collapsed` allows.

    Raises:
        Refusal: Too much of the surface is edge-on.
    """
    area = face_areas(reference)
    collapsed = lay_out(with_uvs(reference, given).corners, given.uvs, None).collapsed
    share = float(area[collapsed].sum() / max(area.sum(), np.finfo(float).tiny))
    if share > COLLAPSED_SHARE.value:
        raise Refusal(
            f"seen along {_AXES[along]}, {share:.0%} of the surface is edge-on and would have no area in the "
            "texture; take the UVs from a different file (`uv-donor`), or accept this with "
            f"{typed(FIX.id, f'axis={_AXES[along]}')}"
        )


def _losses(areas: Floats, along: int, positive: bool) -> str:
    """Describe how much of the surface faces away from the viewer, and how much of it is stretched by a factor of 2 or
    more.

    `areas` are the area vectors of the triangles, (t, 3).
    """
    size = np.linalg.norm(areas, axis=1)
    facing = areas[:, along] * (1.0 if positive else -1.0)
    total = max(float(size.sum()), np.finfo(float).tiny)
    away, steep = float(size[facing < 0.0].sum()) / total, float(size[np.abs(facing) < size / 2.0].sum()) / total
    return (
        f"{away:.0%} of the surface is seen from the back (lettering reads backwards there), and {steep:.0%} is "
        "stretched by a factor of 2 or more"
    )


FIX = Fix(
    id="uv-planar",
    title="UVs by projection",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ADDS, DataChange.DROPS}),
    does="Gives every frame UVs that are projected from the reference frame along one axis: by default, the axis along "
    "which most of the surface is visible. The UVs are projected from the side towards which most of the surface "
    "points.",
    cost="The UVs are estimates and replace the existing UVs. Overlapping layers of the surface get the same part of "
    "the texture, and on steep parts the texture is stretched.",
    touches=frozenset({b"vt", b"f", b"fo"}),
    claims=frozenset({Claim.UVS}),
    plan=plan,
    parameters={
        "axis": (
            "axis of the projection: x, y or z; a stated axis is used even if some faces are edge-on; default: the "
            "axis along which most of the surface is visible"
        ),
        "fit": (
            "own (keep the proportions of the texture; its aspect ratio is that of the colour map, or 1:1 if there is "
            "no colour map) or fill (fill the unit square, which squeezes the texture); default: own"
        ),
    },
    edit_frame=apply_uv_set,
)
