"""A mesh of quads, as computed before it is written as OBJ text."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats, Indices

ABSENT = -1
"""The UV index of a corner that has no UV."""


@dataclass(frozen=True, eq=False)
class QuadMesh:
    """One frame. Indices start at 0.

    Attributes:
        title: The title in the first line of the file.
        object: Name of the object.
        group: Group of the first faces.
        library: Name of the material library.
        material: Material of the first faces.
        positions: Positions of the vertices, (n, 3), in metres.
        uvs: UVs, (m, 2).
        normals: Unit normals, (k, 3).
        v: Position index at each corner of the quads, (f, 4).
        vt: UV index at each corner of the quads, (f, 4); ABSENT if the corner has no UV.
        vn: Normal index at each corner of the quads, (f, 4).
        others: For each later series of faces: the index of its first face, its group, and its material.
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
    """Compute unit normals at the vertices: the mean direction of the adjacent quads, regardless of their size.

    The direction of a quad is that of the cross product of its diagonals.

    Args:
        positions: Positions of the vertices, (n, 3).
        quads: Position index at each corner of the quads, (f, 4).

    Returns:
        The normals, (n, 3).
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
    """Make the quads of a grid of vertices. The first two corners of each quad are in the same column.

    Args:
        index: The vertex indices in the grid, (r, c).

    Returns:
        The vertex index at each corner of the quads, ((r - 1) * (c - 1), 4).
    """
    return np.stack([index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]], axis=-1).reshape(-1, 4)
