"""Compute the weighted mean of frames with the same faces."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from inspector.arrays import Floats, Indices, SmallIndices
from inspector.fixes.base.precision import decimals_for, position_decimals
from inspector.formats.frame import ABSENT, Corners, Frame
from inspector.formats.wavefront.writer import decimals_of
from inspector.surface.normals import grouped_normals, unit
from inspector.surface.triangles import triangulate

_NORMALS_OF_FACES = 1.0
"""Maximum angle, in degrees, between a frame's normals and normals that are computed from its faces; normals that
differ more count as edited. A smaller difference is invisible (common practice, no source) and may come from rounding
to four decimal places, which changes an angle by up to 0.005 degrees."""


def blend(frames: Sequence[Frame], weights: Sequence[float]) -> Frame:
    """Return a copy of the first frame with the weighted mean of all frames' positions.

    If the first frame has normals at all corners, the copy gets new normals, based on all frames that have normals at
    all corners. If the normals of these frames agree with normals computed from the faces (_NORMALS_OF_FACES), the new
    normals are also computed from the faces. Otherwise, the normals of these frames are blended corner by corner. In
    both cases, hard edges stay hard.

    Args:
        frames: Frames with the same faces.
        weights: One weight per frame; the sum is 1. A first frame with weight 0 supplies everything except positions
            and normals.
    """
    first = frames[0]
    positions = _sum(weights, [one.positions for one in frames])
    diagonal = 0.0 if first.box is None else float(np.linalg.norm(first.box[1] - first.box[0]))
    needed = max(decimals_for(diagonal), *(decimals_of(one, b"v") for one in frames))
    moved = first.replace(positions=positions, decimals=position_decimals(first, needed))
    if not first.faces or not _has_normals(first):
        return moved
    lit = [at for at, one in enumerate(frames) if _has_normals(one)]
    frames, weights = [frames[at] for at in lit], [weights[at] for at in lit]
    vn, normals = _worked_out(frames, positions) or _blended(frames, weights)
    corners = first.corners
    return moved.replace(
        normals=normals,
        corners=Corners(corners.offsets, corners.v, corners.vt, vn),
        decimals={b"vn": max(decimals_of(one, b"vn") for one in frames)},
    )


def _has_normals(frame: Frame) -> bool:
    return bool(len(frame.normals)) and not (frame.corners.vn == ABSENT).any()


def _sum(weights: Sequence[float], values: Sequence[Floats]) -> Floats:
    total = values[0] * weights[0]
    for weight, one in zip(weights[1:], values[1:], strict=True):
        total += one * weight
    return total


def _worked_out(frames: Sequence[Frame], positions: Floats) -> tuple[SmallIndices, Floats] | None:
    """Compute normals from the faces at new positions, if the frames' normals agree with normals computed from their
    faces.

    Corners of a vertex share a new normal if they share a normal in every frame.

    Returns:
        Index of each corner's normal, (c,), and unit normals, (g, 3). None if the normals don't agree or a corner has
        no vertex.
    """
    corners = frames[0].corners
    if (corners.v == ABSENT).any():
        return None
    group, first = _distinct_rows([corners.v, *(one.corners.vn for one in frames)])
    triangles = triangulate(corners, frames[0].positions)
    of_corner = group[triangles.corners]
    least = np.cos(np.radians(_NORMALS_OF_FACES))
    for one in frames:
        given = unit(one.normals[one.corners.vn[first]])
        own = grouped_normals(one.positions, triangles, of_corner, len(first))
        if not (np.einsum("gi,gi->g", given, own) > least).all():
            return None
    return group.astype(np.int32), grouped_normals(positions, triangles, of_corner, len(first))


def _blended(frames: Sequence[Frame], weights: Sequence[float]) -> tuple[SmallIndices, Floats]:
    """Compute the weighted means of the frames' normals.

    Corners share a new normal if they share a normal in every frame. A mean of zero is replaced by the first frame's
    normal.

    Returns:
        Index of each corner's normal, (c,), and unit normals, (g, 3).
    """
    group, first = _distinct_rows([one.corners.vn for one in frames])
    given = [unit(one.normals[one.corners.vn[first]]) for one in frames]
    mean = _sum(weights, given)
    cancelled = np.linalg.norm(mean, axis=1, keepdims=True) <= 1e-9
    return group.astype(np.int32), np.where(cancelled, given[0], unit(mean))


def _distinct_rows(columns: Sequence[SmallIndices]) -> tuple[Indices, Indices]:
    """Number the rows of a table, so that equal rows have the same number. Return the number of each row, (c,), and the
    index of the first row with each number, (g,)."""
    number = np.zeros(len(columns[0]), np.int64)
    for column in columns:
        number = np.unique(number * (int(column.max()) + 1) + column, return_inverse=True)[1].reshape(-1)
    return number, np.unique(number, return_index=True)[1]
