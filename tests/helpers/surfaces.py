"""The healthy shot with additions to its surface: normals, a second component or closed shapes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

import numpy as np

from tests.helpers.meshes import ABSENT, Floats, Mesh, torus, wing
from tests.helpers.sequences import MATERIALS, Files, frames

NUMBERS = range(1, 13)
EVERY = [float(number) for number in NUMBERS]
Edit = Callable[[Mesh], Mesh]


def sequence(of: Callable[[int], Mesh], edits: Mapping[int, Edit] | None = None) -> Files:
    """Return twelve frames with the shot's material. `edits` change single frames."""
    meshes = {number: of(number) for number in NUMBERS}
    return MATERIALS | frames(meshes | {number: edit(meshes[number]) for number, edit in (edits or {}).items()})


def lit(number: int) -> Mesh:
    """Return the wing with a normal at every corner. The normals and the front sides of the faces point down."""
    mesh = wing(number)
    faces = tuple(tuple((v, vt, 0) for v, vt, _ in face) for face in mesh.faces)
    return mesh.edit(normals=np.array([[0.0, -1.0, 0.0]]), faces=faces)


def ring(number: int, around: int = 8, across: int = 6) -> Mesh:
    """Return a closed ring that glides along +z."""
    mesh = torus(around, across)
    return mesh.edit(
        positions=mesh.positions + np.array([0, 0, 0.15 * number]),
        head=("mtllib manta.mtl", "o manta"),
        state=("usemtl skin",),
    )


def with_face(mesh: Mesh, points: Floats | Sequence[Sequence[float]]) -> Mesh:
    """Add a separate face with corners at the given points, (s, 3). The z coordinates of the points are relative to the
    mean z of the mesh. The face's UVs are a regular polygon beside the wing's UV islands."""
    first, count = len(mesh.positions), len(points)
    placed = np.asarray(points, float) + np.array([0, 0, mesh.positions[:, 2].mean()])
    angles = 2 * np.pi * np.arange(count) / count
    uvs = np.stack([np.cos(angles), np.sin(angles)], axis=-1) * 0.04 + [0.95, 0.5]
    face = tuple((first + at, len(mesh.uvs) + at, 0 if len(mesh.normals) else ABSENT) for at in range(count))
    return mesh.edit(
        positions=np.concatenate([mesh.positions, placed]),
        uvs=np.concatenate([mesh.uvs, uvs]),
        faces=(*mesh.faces, face),
    )


def drawn(points: Sequence[Sequence[float]], to: Sequence[Sequence[float]], number: int) -> Floats:
    """Return where points (s, 3) are in a frame if they move to `to` in frames 2 to 5, and back in frames 5 to 8."""
    share = max(0.0, 1.0 - abs(number - 5) / 3.0)
    return (1.0 - share) * np.asarray(points, float) + share * np.asarray(to, float)


def with_corners(mesh: Mesh, changes: Iterable[tuple[int, int, int]]) -> Mesh:
    """Return the mesh with different vertices at some corners. Each change is (face, corner, vertex)."""
    faces = [list(face) for face in mesh.faces]
    for face, corner, vertex in changes:
        faces[face][corner] = (vertex, *faces[face][corner][1:])
    return mesh.edit(faces=tuple(map(tuple, faces)))
