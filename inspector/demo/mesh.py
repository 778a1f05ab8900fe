"""A mesh of quads as the demo's generator holds it, before it becomes text."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats, Indices

ABSENT = -1
"""A corner's UV index where the corner names none."""


@dataclass(frozen=True, eq=False)
class Mesh:
    """One frame. positions (n, 3) in metres, uvs (m, 2), normals (k, 3) of length 1, all float64.

    v, vt and vn (f, 4) int64 are the corners' indices, counted from 0; vt is ABSENT where a corner has no UV. group and
    material are those of the first faces; `others` lists, for later faces, the first of them with group and material.
    """

    title: str
    object: str
    group: str
    library: str
    material: str
    positions: Floats
    uvs: Floats
    normals: Floats
    v: Indices
    vt: Indices
    vn: Indices
    others: tuple[tuple[int, str, str], ...] = ()


def vertex_normals(positions: Floats, quads: Indices) -> Floats:
    """Unit normals (n, 3) at the vertices: the mean direction of the adjacent quads, narrow ones counting in full.

    A quad's direction is that of the cross product of its diagonals, also where the quad is not flat.
    """
    a, b, c, d = (positions[quads[:, corner]] for corner in range(4))
    facing = _unit(np.cross(c - a, d - b))
    total = np.zeros_like(positions)
    for corner in range(4):
        np.add.at(total, quads[:, corner], facing)
    return _unit(total)


def _unit(vectors: Floats) -> Floats:
    unit: Floats = vectors / np.sqrt((vectors * vectors).sum(axis=1, keepdims=True))
    return unit


def grid_quads(index: Indices) -> Indices:
    """The quads ((r - 1) * (c - 1), 4) between the vertex numbers of a grid (r, c), turning from rows to columns."""
    return np.stack([index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]], axis=-1).reshape(-1, 4)
