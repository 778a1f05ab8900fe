"""Meshes and sequences in which the faces and vertices change."""

from __future__ import annotations

import numpy as np

from tests.helpers.meshes import Mesh, wing, with_faces
from tests.helpers.surfaces import with_corners, with_face


def torn(mesh: Mesh) -> Mesh:
    """Move one corner of face 7 to another vertex, so that the corner's two edges become boundary edges."""
    return with_corners(mesh, [(6, 1, 0)])


def diagonal_turned(mesh: Mesh) -> Mesh:
    """Start face 7 at its second corner, so that readers cut it along its other diagonal."""
    a, b, c, d = mesh.faces[6]
    return mesh.edit(faces=(*mesh.faces[:6], (b, c, d, a), *mesh.faces[7:]))


SQUARE = [[2.1, 0, -0.75], [2.4, 0, -0.75], [2.4, 0, -0.25], [2.1, 0, -0.25]]


def with_fin(number: int) -> Mesh:
    return with_face(wing(number), SQUARE)


def grown_on(mesh: Mesh) -> Mesh:
    """Attach two corners of the fin to vertices of the wing, which leaves two of the fin's own vertices unused."""
    return with_corners(mesh, [(12, 0, 4), (12, 3, 9)])


def one_vertex_more(mesh: Mesh) -> Mesh:
    return mesh.edit(positions=np.concatenate([mesh.positions, mesh.positions[:1]]))


def one_face_less(mesh: Mesh) -> Mesh:
    return mesh.edit(faces=mesh.faces[:-1])


def last_first(mesh: Mesh) -> Mesh:
    return mesh.edit(faces=(mesh.faces[-1], *mesh.faces[:-1]))


ORDER = np.random.default_rng(5).permutation(20)


def shuffled(mesh: Mesh) -> Mesh:
    """Shuffle the vertices without renumbering the faces, so that the faces connect different points."""
    return mesh.edit(positions=mesh.positions[ORDER])


def renumbered(mesh: Mesh) -> Mesh:
    number = np.argsort(ORDER)
    return with_faces(shuffled(mesh), lambda corner: (int(number[corner[0]]), *corner[1:]))


def wound_back(mesh: Mesh, faces: range = range(12)) -> Mesh:
    return mesh.edit(faces=tuple(face[::-1] if at in faces else face for at, face in enumerate(mesh.faces)))


def mirrored(mesh: Mesh) -> Mesh:
    return mesh.edit(positions=mesh.positions * [-1, 1, 1])
