"""The tests' meshes in other formats. The files are written by general-purpose libraries, or by hand according to the
specifications of the formats."""

from __future__ import annotations

import struct
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import trimesh

from inspector.formats.frame import Frame
from inspector.formats.mesh import Mesh, Part
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.meshes import Mesh as TestMesh

CUBE = [(0, 0, 0), (0, 0, 1), (0, 1, 1), (0, 1, 0), (1, 0, 0), (1, 0, 1), (1, 1, 1), (1, 1, 0)]
"""The vertices of a cube. Source: the example in the PLY document ("The PLY Polygon File Format", 1994)."""
SIDES = [(0, 1, 2, 3), (7, 6, 5, 4), (0, 4, 5, 1), (1, 5, 6, 2), (2, 6, 7, 3), (3, 7, 4, 0)]


def mesh_of(mesh: TestMesh, dtype: Any = np.float32) -> Mesh:
    return of_frame(read_frame(mesh.text()), dtype)


def of_frame(frame: Frame, dtype: Any = np.float32) -> Mesh:
    parts = (Part(0, frame.faces),)
    arrays = (array.astype(dtype) for array in (frame.positions, frame.uvs, frame.normals))
    positions, uvs, normals = arrays
    return Mesh(positions, frame.corners, uvs, normals, parts)


def triangles_of(mesh: TestMesh) -> trimesh.Trimesh:
    """Convert a mesh of triangles to the type that trimesh's exporters take."""
    faces = [[corner[0] for corner in face] for face in mesh.faces]
    return trimesh.Trimesh(mesh.positions, faces, process=False)


def ply_text(header: Sequence[str], body: Iterable[str], end: str = "\n") -> bytes:
    return end.join(["ply", *header, "end_header", *body, ""]).encode("ascii")


def ply_binary(order: str, vertices: Sequence[Sequence[float]], faces: Sequence[Sequence[int]]) -> bytes:
    """Return a binary PLY file. `order` is the byte order, "<" or ">".

    Lists have the types in the example of the 1994 document (uchar, int).
    """
    words = {"<": "binary_little_endian", ">": "binary_big_endian"}
    lines = [
        *("ply", f"format {words[order]} 1.0", f"element vertex {len(vertices)}"),
        *(f"property double {axis}" for axis in "xyz"),
        *(f"element face {len(faces)}", "property list uchar int vertex_indices", "end_header"),
    ]
    body = b"".join(struct.pack(f"{order}3d", *vertex) for vertex in vertices)
    body += b"".join(struct.pack(f"{order}B{len(face)}i", len(face), *face) for face in faces)
    return "".join(f"{line}\n" for line in lines).encode("ascii") + body
