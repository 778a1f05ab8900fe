"""Meshes and sequences with wrong normals."""

from __future__ import annotations

from tests.helpers.meshes import ABSENT, Mesh, with_faces


def unlit(mesh: Mesh, of: range = range(12)) -> Mesh:
    return with_faces(mesh, lambda corner: (*corner[:2], ABSENT), of)
