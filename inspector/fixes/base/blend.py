"""Two frames with equal faces -> one between them."""

from __future__ import annotations

import numpy as np

from inspector.fixes.base.precision import decimals_for, position_decimals
from inspector.formats.frame import ABSENT, Corners, FloatArray, Frame
from inspector.formats.wavefront.writer import decimals_of


def blend(first: Frame, second: Frame, weight: float) -> Frame:
    """`first` with positions and normals on the way to `second`; weight 0 to 1 is the second's share.

    Both must have equal faces. Normals are blended corner by corner, so that hard edges stay, and made unit length.
    """
    positions = first.positions * (1 - weight) + second.positions * weight
    diagonal = 0.0 if first.box is None else float(np.linalg.norm(first.box[1] - first.box[0]))
    needed = max(decimals_for(diagonal), decimals_of(second, b"v"))
    moved = first.replace(positions=positions, decimals=position_decimals(first, needed))
    a, b = first.corners, second.corners
    if not len(first.normals) or not len(second.normals) or (a.vn == ABSENT).any() or (b.vn == ABSENT).any():
        return moved
    # A pair of normals that several corners share is blended once: as many normals as there are pairs.
    pairs = a.vn.astype(np.int64) * len(second.normals) + b.vn
    distinct, inverse = np.unique(pairs, return_inverse=True)
    ours, theirs = first.normals[distinct // len(second.normals)], second.normals[distinct % len(second.normals)]
    vn = inverse.reshape(-1).astype(np.int32)
    return moved.replace(
        normals=_unit(ours * (1 - weight) + theirs * weight, ours),
        corners=Corners(a.offsets, a.v, a.vt, vn),
        decimals={b"vn": max(decimals_of(first, b"vn"), decimals_of(second, b"vn"))},
    )


def _unit(normals: FloatArray, fallback: FloatArray) -> FloatArray:
    """Unit vectors (k, 3); where two opposite normals cancel out, the fallback's row."""
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    return np.where(lengths > 1e-9, normals / np.maximum(lengths, 1e-9), fallback)
