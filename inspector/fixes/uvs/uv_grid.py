"""Compute the UVs of a rectangular grid of quads from its rows and columns."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.parameters import aspect_of
from inspector.fixes.base.uvs import (
    UV_DECIMALS,
    UvSet,
    apply_uv_set,
    colour_map_aspect,
    frames_for_uvs,
    refuse_other_faces,
    uv_changes,
)
from inspector.formats.frame import Frame
from inspector.names import counted
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.surface.quad_grid import quad_grid

_UP, _AWAY = 1, 2
"""Indices of the axes y and z. The top of the texture is on the +y side of the grid or, if the grid is level, on its -z
side."""

_LEVEL = 0.2
"""A grid that rises along y by less than this fraction of its longer side counts as level."""


def plan(context: CheckContext, parameters: Parameters, frames: tuple[Fraction, ...] | None) -> Step[UvSet]:
    """Compute UVs for the grid of quads on the reference frame.

    Raises:
        Refusal: The reference frame's faces don't form one grid of quads, or the grid has no extent along its rows or
            columns; no frame can be read, or the reference frame has a coordinate that is not a finite number; faces
            differ between frames; the parameter `aspect` is wrong; or all chosen frames are empty, or a chosen frame
            doesn't exist or can't be read.
    """
    series = context.series
    if series.reference_index is None:
        raise Refusal("no frame can be read")
    reference = context.reference_frame
    grid = quad_grid(reference.corners)
    if grid is None:
        raise Refusal("the faces don't form one rectangular grid of quads")
    if not np.isfinite(reference.positions).all():
        raise Refusal("the reference frame has a coordinate that is not a finite number")
    aspect = aspect_of(parameters)
    number = frame_text(series.reference_facts.number)
    indices = frames_for_uvs(context, frames)
    refuse_other_faces(context, reference, f"reference frame {number}", indices)
    grid = _upright(grid, reference.positions)
    aspect = aspect or colour_map_aspect(context)
    own = _aspect(grid, reference.positions)
    given = UvSet(_laid(grid, reference, aspect, own), reference.corners.v, UV_DECIMALS)
    numbers = context.numbers(indices)
    rows, columns = grid.shape[0] - 1, grid.shape[1] - 1
    into = "filling the unit square" if aspect is None else f"for a texture with an aspect ratio of {aspect:.4g} to 1"
    return Step(
        FIX.id,
        {**parameters, **({} if aspect is None else {"aspect": aspect})},
        numbers,
        f"create UVs for {numbers_text(numbers)} as a grid of {counted(columns, 'column')} and {counted(rows, 'row')}, "
        f"{into}; the sheet itself has an aspect ratio of {own:.4g} to 1",
        uv_changes(context, indices[0], given),
        work=given,
    )


def _upright(grid: Indices, positions: Floats) -> Indices:
    """Rotate the grid of vertices by quarter turns, so that the last row is on the +y side or, if the grid is level, on
    the -z side."""
    turns = [np.rot90(grid, turn) for turn in range(4)]
    ways = np.array([(positions[turn[-1]] - positions[turn[0]]).mean(axis=0) for turn in turns])
    longest = float(np.linalg.norm(ways, axis=1).max())
    level = float(ways[:, _UP].max()) < _LEVEL * longest
    return turns[int((-ways[:, _AWAY] if level else ways[:, _UP]).argmax())]


def _aspect(grid: Indices, positions: Floats) -> float:
    """Return the mean length of the rows divided by the mean length of the columns. Both are measured along the
    surface.

    Raises:
        Refusal: One of the lengths is 0.
    """
    points = positions[grid]
    across = np.linalg.norm(np.diff(points, axis=1), axis=2).sum(axis=1).mean()
    upward = np.linalg.norm(np.diff(points, axis=0), axis=2).sum(axis=0).mean()
    if not (across > 0.0 and upward > 0.0):
        raise Refusal("the grid has no extent along its rows or its columns, so no texture can be fitted to it")
    return float(across / upward)


def _laid(grid: Indices, reference: Frame, aspect: float | None, own: float) -> Floats:
    """Return one UV for each vertex, (n, 2), in equal steps by column and row; (0, 0) if no face uses the vertex.

    The UVs are centred in the unit square, and as large as possible without distorting the texture. `aspect` is the
    aspect ratio of the texture, width over height; if `aspect` is None, the UVs fill the square. `own` is the aspect
    ratio of the grid.
    """
    rows, columns = grid.shape
    v, u = np.meshgrid(np.linspace(0.0, 1.0, rows), np.linspace(0.0, 1.0, columns), indexing="ij")
    width, height = (1.0, 1.0) if aspect is None else (min(1.0, own / aspect), min(1.0, aspect / own))
    uvs = np.zeros((len(reference.positions), 2))
    uvs[grid.ravel(), 0] = ((u - 0.5) * width + 0.5).ravel()
    uvs[grid.ravel(), 1] = ((v - 0.5) * height + 0.5).ravel()
    return np.round(uvs, UV_DECIMALS)


FIX = Fix(
    id="uv-grid",
    title="UVs from a grid",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ADDS, DataChange.DROPS}),
    does="Makes UVs from the rows and columns of a sheet that is one rectangular grid of quads. The UVs are fitted to "
    "the aspect ratio of the texture. The top of the texture is on the +y side of the sheet or, if the sheet is level, "
    "on its -z side.",
    cost="The UVs are computed from the grid, and replace the existing UVs. The computed UVs are evenly spaced: where "
    "the rows or columns are not evenly spaced on the surface, the texture is stretched.",
    touches=frozenset({b"vt", b"f", b"fo"}),
    claims=frozenset({Claim.UVS}),
    plan=plan,
    parameters={
        "aspect": (
            "width over height of the texture; default: the aspect ratio of the colour map; without a colour map, the "
            "UVs fill the unit square"
        )
    },
    edit_frame=apply_uv_set,
)
