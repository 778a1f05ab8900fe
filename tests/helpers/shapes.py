"""Surfaces by formula over the unit square of UV, as frames read from text."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from inspector.arrays import Floats
from inspector.formats.frame import Frame
from inspector.formats.wavefront.reader import read_frame
from inspector.sequence.discovery.discover import discover
from inspector.sequence.run.scan import scan
from inspector.sequence.series import Series, build_series
from inspector.surface.metric import Metric, measure_frame
from inspector.surface.normals import grouped_normals
from inspector.surface.triangles import Triangles, triangulate
from tests.helpers.meshes import Mesh, grid_faces, mapped
from tests.helpers.sequences import Files, frames, write

Surface = Callable[[Floats, Floats], tuple[Floats, Floats, Floats]]


def sheet_mesh(surface: Surface, columns: int, rows: int) -> Mesh:
    """columns x rows quads; u runs along the columns, v along the rows; faces run counter-clockwise in UV."""
    v, u = np.meshgrid(np.linspace(0, 1, rows + 1), np.linspace(0, 1, columns + 1), indexing="ij")
    u, v = u.ravel(), v.ravel()
    points = np.stack([np.broadcast_to(axis, u.shape) for axis in surface(u, v)], axis=1)
    return mapped(points, grid_faces(rows + 1, columns + 1), np.stack([u, v], axis=1))


def read(mesh: Mesh) -> Frame:
    """The mesh as the reader gives it, from text with 14 decimals."""
    return read_frame(mesh.text(14))


def measured(mesh: Mesh) -> tuple[Frame, Triangles, Metric]:
    frame = read(mesh)
    triangles = triangulate(frame.corners, frame.positions)
    return frame, triangles, measure_frame(frame, triangles)


def wall(width: float, height: float) -> Surface:
    """An upright sheet in the plane z = 0 that looks along +z, its lower left corner in the origin."""
    return lambda u, v: (width * u, height * v, 0.0 * u)


def remapped(mesh: Mesh, change: Callable[[Floats, Floats], tuple[Floats, Floats]]) -> Mesh:
    """The mesh with other UVs."""
    return mesh.edit(uvs=np.stack(change(mesh.uvs[:, 0], mesh.uvs[:, 1]), axis=1))


def with_screen(mesh: Mesh, left: float, right: float, bottom: float = -5.0, top: float = 5.0) -> Mesh:
    """A second sheet in the plane z = 1 from `left` to `right` and from `bottom` to `top`, whose UVs are beyond the
    unit square."""
    corners = np.array([[left, bottom, 1], [right, bottom, 1], [right, top, 1], [left, top, 1]])
    v, vt = len(mesh.positions), len(mesh.uvs)
    face = tuple((v + i, vt + i, -1) for i in range(4))
    return Mesh(
        np.concatenate([mesh.positions, corners]),
        (*mesh.faces, face),
        np.concatenate([mesh.uvs, np.array([[2.0, 2], [3, 2], [3, 3], [2, 3]])]),
    )


def series_of(folder: Path, meshes: dict[int, Mesh], others: Files | None = None) -> Series:
    """A sequence of these frames, written, found and scanned."""
    return scanned(write(folder, (others or {}) | frames(meshes)))


def scanned(folder: Path) -> Series:
    """The one sequence in a folder."""
    (sequence,) = discover(folder).sequences
    return build_series(sequence, tuple(scan(sequence.files)))


def vertex_normals(positions: Floats, triangles: Triangles) -> Floats:
    """(n, 3): mean of the triangles round a vertex, each by its angle there."""
    return grouped_normals(positions, triangles, triangles.vertices, len(positions))
