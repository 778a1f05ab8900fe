"""OFF, the text form. Source: Geomview manual, "OFF Files": [ST][C][N][4][n]OFF, counts, vertices, faces.

Not through trimesh: it cuts every polygon into triangles, so that counts and indices would no longer be the file's.
"""

from __future__ import annotations

import re

import numpy as np

from inspector.formats.format import Beside, Format, Trait
from inspector.formats.mesh import Mesh, Part, corners_of, legal, offsets_of
from inspector.formats.problems import UnreadableFrame

_KEYWORD = re.compile(
    rb"\A(?:[ \t]*(?:#[^\r\n]*)?(?:\r\n|\n|\r))*[ \t]*((?:ST)?C?N?4?n?)OFF(?:[ \t]+(BINARY))?(?=[\s#]|\Z)"
)
_COMMENT = re.compile(rb"#[^\r\n]*")


def _recognises(head: bytes, _: int) -> bool:
    return _KEYWORD.match(head) is not None


def read(data: bytes, _: Beside) -> Mesh:
    """The mesh of an OFF file; colours are left."""
    keyword = _KEYWORD.match(data)
    if keyword is None:
        raise UnreadableFrame("foreign")
    if keyword[2] or b"4" in keyword[1] or b"n" in keyword[1]:
        raise UnreadableFrame("not-supported", reason="only three-dimensional text files are read")
    lines = [words for line in _COMMENT.sub(b"", data[keyword.end() :]).splitlines() if (words := line.split())]
    try:
        count, faces = (int(word) for word in lines[0][:2])
        rows = lines[1 : 1 + count + faces]
        if len(rows) < count + faces or min(count, faces) < 0:
            raise UnreadableFrame("too-short")
        return _mesh(keyword[1], rows[:count], rows[count:])
    except (ValueError, IndexError, OverflowError) as error:
        raise UnreadableFrame("broken-form", reason=str(error)) from error


def _mesh(prefix: bytes, vertices: list[list[bytes]], faces: list[list[bytes]]) -> Mesh:
    normals = uvs = None
    positions = np.array([row[:3] for row in vertices], np.float64).reshape(-1, 3)
    if b"N" in prefix:
        normals = np.array([row[3:6] for row in vertices], np.float64).reshape(-1, 3)
    if prefix.startswith(b"ST"):
        uvs = np.array([row[-2:] for row in vertices], np.float64).reshape(-1, 2)
    sizes = np.array([int(row[0]) for row in faces], np.int64)
    if any(len(row) <= size for row, size in zip(faces, sizes.tolist(), strict=True)) or (sizes < 0).any():
        raise UnreadableFrame("broken-form", reason="a face has fewer indices than it announces")
    words = [word for row, size in zip(faces, sizes.tolist(), strict=True) for word in row[1 : size + 1]]
    v = legal(np.array(words, np.int64), len(positions))
    return Mesh(
        positions,
        corners_of(offsets_of(sizes), v, None if uvs is None else v, None if normals is None else v),
        np.zeros((0, 2)) if uvs is None else uvs,
        np.zeros((0, 3)) if normals is None else normals,
        (Part(0, len(sizes)),),
    )


def write(mesh: Mesh) -> bytes:
    """Text, with all digits of the positions; UVs and normals only where they go with the vertices' indices."""
    corners = mesh.corners
    columns, prefix = [mesh.positions], ""
    if len(mesh.normals) == len(mesh.positions) and np.array_equal(corners.vn, corners.v):
        columns, prefix = [*columns, mesh.normals], "N"
    if len(mesh.uvs) == len(mesh.positions) and np.array_equal(corners.vt, corners.v):
        columns, prefix = [*columns, mesh.uvs[:, :2]], "ST" + prefix
    table = np.column_stack([np.asarray(column, np.float64) for column in columns])
    vertices = " ".join(["%r"] * table.shape[1]) + "\n"
    faces = (
        " ".join(map(str, [stop - start, *corners.v[start:stop].tolist()])) + "\n"
        for start, stop in zip(corners.offsets.tolist(), corners.offsets[1:].tolist(), strict=False)
    )
    head = f"{prefix}OFF\n{len(table)} {len(corners.sizes)} 0\n"
    return (head + vertices * len(table) % tuple(table.ravel().tolist()) + "".join(faces)).encode("ascii")


FORMATS = (
    Format(
        "off",
        "OFF",
        (b".off",),
        frozenset({Trait.UVS, Trait.NORMALS, Trait.POLYGONS, Trait.SHARED}),
        _recognises,
        read,
        write,
        leaves="UVs and normals stay only where each vertex has one",
    ),
)
