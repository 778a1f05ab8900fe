"""Linear blend skinning: vertices that follow joints.

Source: Khronos, glTF 2.0 specification, 3.7.3.3; OpenUSD, UsdSkel, "Skinning".
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats

Array = npt.NDArray[Any]


def skinned(
    positions: Array, normals: Array | None, joints: Array, weights: Array, matrices: Floats
) -> tuple[Floats, Array | None]:
    """Move positions and normals with their joints.

    Args:
        positions: The positions, (n, 3).
        normals: The normal at each position, (n, 3); None if there are no normals.
        joints: Indices of the joints that move each vertex, (n, k).
        weights: Weights of these joints, (n, k), which are scaled to a sum of 1. A vertex with no weight above 0 does
            not move.
        matrices: Matrix by which each joint moves vertices, for column vectors, (j, 4, 4).

    Returns:
        The moved positions, (n, 3), and the moved normals, (n, 3), or None if there were no normals. Moved normals have
        length 1; a normal whose length would become 0 stays as it is.
    """
    joints = np.where(weights > 0, joints, 0)
    sums = weights.sum(axis=1, keepdims=True)
    shares = np.divide(weights, sums, out=np.zeros(weights.shape), where=sums > 0)
    blended = np.zeros((len(positions), 4, 4))
    for column in range(joints.shape[1]):
        blended += shares[:, column, None, None] * matrices[joints[:, column]]
    blended[sums[:, 0] <= 0] = np.eye(4)
    moved = np.einsum("nij,nj->ni", blended[:, :3, :3], positions.astype(np.float64)) + blended[:, :3, 3]
    if normals is None:
        return moved, None
    # The cofactors are the transposed inverse times the determinant. No inverse is needed, as lengths don't matter.
    a, b, c = blended[:, 0, :3], blended[:, 1, :3], blended[:, 2, :3]
    cofactors = np.stack([np.cross(b, c), np.cross(c, a), np.cross(a, b)], axis=1)
    turned = np.einsum("nij,nj->ni", cofactors, normals.astype(np.float64))
    turned *= np.sign(np.einsum("ni,ni->n", a, cofactors[:, 0]))[:, None]
    lengths = np.linalg.norm(turned, axis=1, keepdims=True)
    return moved, np.where(lengths > 0, turned / np.where(lengths > 0, lengths, 1.0), normals)
