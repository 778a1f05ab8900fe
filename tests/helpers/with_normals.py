"""Three frames of a growing torus with normals."""

from __future__ import annotations

from tests.helpers.meshes import Mesh, torus


def rings() -> dict[int, Mesh]:
    ring = torus(7, 5)
    return {number: ring.edit(positions=ring.positions * (1 + number / 50)) for number in (1, 2, 3)}
