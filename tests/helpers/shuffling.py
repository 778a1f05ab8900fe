"""A mesh with its vertices and faces in a different order. The surface is the same."""

from __future__ import annotations

import numpy as np

from tests.helpers.meshes import Mesh


def shuffled(mesh: Mesh, seed: int = 5) -> Mesh:
    """Return the mesh with vertices and faces in random order. Each face starts at a random corner."""
    random = np.random.default_rng(seed)
    order = random.permutation(len(mesh.positions))
    number = np.argsort(order)
    faces = [tuple((int(number[v]), vt, vn) for v, vt, vn in face) for face in mesh.faces]
    begun = [face[start:] + face[:start] for face in faces for start in [int(random.integers(len(face)))]]
    return mesh.edit(
        positions=mesh.positions[order], faces=tuple(begun[face] for face in random.permutation(len(begun)))
    )
