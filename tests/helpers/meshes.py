"""Small meshes by formula, and their OBJ text."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any

import numpy as np

from inspector.arrays import Floats

Corner = tuple[int, int, int]
ABSENT = -1


@dataclass(frozen=True, eq=False)
class Mesh:
    """positions (n, 3), uvs (m, 2), normals (k, 3); each face a tuple of corners (v, vt, vn) from 0, -1 absent.

    `head` are the lines above the vertices, `state` those between the vertices and the faces; `smooth` is the smoothing
    group of all faces, "" for no such line; `marks` are lines among the faces, each with the index of the face after
    it.
    """

    positions: Floats
    faces: tuple[tuple[Corner, ...], ...]
    uvs: Floats = field(default_factory=lambda: np.empty((0, 2)))
    normals: Floats = field(default_factory=lambda: np.empty((0, 3)))
    head: tuple[str, ...] = ()
    state: tuple[str, ...] = ()
    smooth: str = "1"
    marks: tuple[tuple[int, str], ...] = ()
    _texts: dict[int, bytes] = field(default_factory=dict, init=False, repr=False)

    def edit(self, **changes: Any) -> Mesh:
        return replace(self, **changes)

    def text(self, decimals: int = 6) -> bytes:
        """The mesh as an OBJ file with Unix line ends, made once: most shots are of the same few meshes."""
        if decimals not in self._texts:
            self._texts[decimals] = self._written(decimals)
        return self._texts[decimals]

    def _written(self, decimals: int) -> bytes:
        lines = [
            *self.head,
            *number_lines("v", self.positions, decimals),
            *number_lines("vt", self.uvs, decimals),
            *number_lines("vn", self.normals, decimals),
            *([f"s {self.smooth}"] if self.smooth and self.faces else []),
            *self.state,
            *face_lines(self.faces, self.marks),
        ]
        return ("\n".join(lines) + "\n").encode()


def face_lines(faces: Iterable[Sequence[Corner]], marks: Sequence[tuple[int, str]] = ()) -> list[str]:
    lines = ["f " + " ".join(map(corner_text, face)) for face in faces]
    for face, line in reversed(marks):
        lines.insert(face, line)
    return lines


def number_lines(keyword: str, values: Floats, decimals: int) -> Iterable[str]:
    return (keyword + "".join(f" {value:.{decimals}f}" for value in row) for row in values.tolist())


def corner_text(corner: Corner) -> str:
    v, vt, vn = ("" if index == ABSENT else str(index + 1) for index in corner)
    return f"{v}/{vt}/{vn}".rstrip("/")


def with_faces(mesh: Mesh, change: Callable[[Corner], Corner], of: Sequence[int] | None = None) -> Mesh:
    """The mesh with every corner changed, or only those of the faces `of`."""
    chosen = range(len(mesh.faces)) if of is None else of
    faces = (tuple(map(change, face)) if index in chosen else face for index, face in enumerate(mesh.faces))
    return replace(mesh, faces=tuple(faces))


def grid_faces(rows: int, columns: int) -> list[tuple[int, int, int, int]]:
    """Quads between vertices that are numbered row by row."""
    corners = [(row * columns + column) for row in range(rows - 1) for column in range(columns - 1)]
    return [(at, at + 1, at + columns + 1, at + columns) for at in corners]


def plain(positions: Floats, faces: Iterable[Sequence[int]]) -> Mesh:
    """A mesh without UVs and normals."""
    return Mesh(positions, tuple(tuple((v, ABSENT, ABSENT) for v in face) for face in faces))


def mapped(positions: Floats, faces: Iterable[Sequence[int]], uvs: Floats) -> Mesh:
    """A mesh with one UV a vertex."""
    return Mesh(positions, tuple(tuple((v, v, ABSENT) for v in face) for face in faces), uvs)


def torus(around: int, across: int, large: float = 2.0, small: float = 0.7) -> Mesh:
    """A torus of quads: `around` the axis, `across` the tube; UVs with a seam both ways."""
    u, w = np.meshgrid(np.arange(around), np.arange(across), indexing="ij")
    a, b = 2 * np.pi * u.ravel() / around, 2 * np.pi * w.ravel() / across
    ring = large + small * np.cos(b)
    positions = np.stack([ring * np.cos(a), ring * np.sin(a), small * np.sin(b)], axis=1)
    uv_u, uv_w = np.meshgrid(np.arange(around + 1) / around, np.arange(across + 1) / across, indexing="ij")
    faces = [
        tuple(
            ((i % around) * across + j % across, i * (across + 1) + j, (i % around) * across + j % across)
            for i, j in ((i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1))
        )
        for i in range(around)
        for j in range(across)
    ]
    normals = np.stack([np.cos(b) * np.cos(a), np.cos(b) * np.sin(a), np.sin(b)], axis=1)
    return Mesh(positions, tuple(faces), np.stack([uv_u.ravel(), uv_w.ravel()], axis=1), normals)


def sphere(rings: int, around: int, radius: float = 1.0) -> Mesh:
    """A sphere by longitude and latitude: quads, and triangles at the poles; outward."""
    latitudes = np.pi * np.arange(1, rings) / rings
    t, a = np.meshgrid(latitudes, 2 * np.pi * np.arange(around) / around, indexing="ij")
    body = np.stack([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)], axis=-1).reshape(-1, 3)
    positions = radius * np.concatenate([body, [[0, 0, 1], [0, 0, -1]]])
    north, south = len(body), len(body) + 1
    last = (rings - 2) * around
    faces: list[tuple[int, ...]] = []
    for j in range(around):
        k = (j + 1) % around
        faces += [(north, j, k), (south, last + k, last + j)]
        for row in range(0, last, around):
            faces.append((row + j, row + around + j, row + around + k, row + k))
    return plain(positions, faces)


def prism(sides: int) -> Mesh:
    """A closed prism over a regular polygon: two faces of `sides` corners, `sides` quads; volume is area times 1.

    In the texture, the bottom and the top side by side as seen from outside, and the walls as a strip above them.
    """
    angles = 2 * np.pi * np.arange(sides) / sides
    ring = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    positions = np.concatenate([np.c_[ring, np.zeros(sides)], np.c_[ring, np.ones(sides)]])
    along = np.arange(sides + 1) / sides
    caps = [ring * [-0.2, 0.2] + 0.25, ring * 0.2 + [0.75, 0.25]]
    uvs = np.concatenate([*caps, np.c_[along, 0 * along + 0.55], np.c_[along, 0 * along + 0.95]])
    low, high = 2 * sides, 3 * sides + 1
    walls = [
        [(i, low + i), ((i + 1) % sides, low + i + 1), (sides + (i + 1) % sides, high + i + 1), (sides + i, high + i)]
        for i in range(sides)
    ]
    faces = [[(i, i) for i in range(sides - 1, -1, -1)], [(i, i) for i in range(sides, 2 * sides)], *walls]
    return Mesh(positions, tuple(tuple((v, vt, ABSENT) for v, vt in face) for face in faces), uvs)


WING_ROWS, WING_COLUMNS = 4, 5


@cache
def wing(time: float) -> Mesh:
    """A manta's wings as a sheet of 12 quads, 4 across, 1.5 deep, in two UV islands; it flaps and glides along +z.

    One mesh for all who ask, so its arrays can't be written to.
    """
    rows, columns = np.meshgrid(np.arange(WING_ROWS), np.arange(WING_COLUMNS), indexing="ij")
    x, z = columns.ravel() - 2.0, rows.ravel() * 0.5
    y = 0.4 * np.abs(x) * np.sin(0.25 * time - 0.3 * np.abs(x)) + 0.05 * z
    left = [(row * 3 + column) for row in range(WING_ROWS) for column in range(3)]
    u = np.array([(column % 3) * 0.2 + 0.5 * side for side in (0, 1) for _ in range(WING_ROWS) for column in range(3)])
    w = np.array([row / 3 for _ in (0, 1) for row in range(WING_ROWS) for _ in range(3)])
    island = len(left)

    def uv(vertex: int, side: int) -> int:
        row, column = divmod(vertex, WING_COLUMNS)
        return side * island + row * 3 + column - 2 * side

    faces = tuple(
        tuple((v, uv(v, int(face[0] % WING_COLUMNS >= 2)), ABSENT) for v in face)
        for face in grid_faces(WING_ROWS, WING_COLUMNS)
    )
    positions, uvs = np.stack([x, y, z + 0.15 * time], axis=1), np.stack([u, w], axis=1)
    positions.flags.writeable = uvs.flags.writeable = False
    return Mesh(
        positions=positions,
        faces=faces,
        uvs=uvs,
        head=("mtllib manta.mtl", "o manta"),
        state=("usemtl skin",),
    )
