"""STL, binary and ASCII. Source of the binary form: 80 bytes of header, a count n, 50 bytes for each triangle, so
84 + 50 n bytes in all (3D Systems, "StereoLithography Interface Specification", 1989; from memory).

Not through trimesh: it drops a text that ends early without a word, and reports bad numbers by a warning alone.
"""

from __future__ import annotations

import re
import struct

import numpy as np

from inspector.formats.format import Beside, Format
from inspector.formats.mesh import Mesh, Numbers, Part, corners_of, offsets_of
from inspector.formats.problems import UnreadableFrame
from inspector.names import Name

_HEADER, _TRIANGLE = 84, 50
_ROW = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_SOLID = re.compile(rb"^[ \t]*solid\b[ \t]*([^\r\n]*)(.*?)^[ \t]*endsolid\b[^\r\n]*", re.MULTILINE | re.DOTALL | re.I)
_VERTEX = re.compile(rb"\bvertex[ \t]+([^\s]+)[ \t]+([^\s]+)[ \t]+([^\s]+)", re.I)


def _is_binary(head: bytes, size: int) -> bool:
    # A binary header may begin with "solid" as well: only the size tells for sure.
    count: int = struct.unpack_from("<I", head, 80)[0] if size >= _HEADER else 0
    return size >= _HEADER and size == _HEADER + _TRIANGLE * count


def _is_text(head: bytes) -> bool:
    return head.lstrip().lower().startswith(b"solid") and b"facet" in head.lower()


def _recognises(head: bytes, size: int) -> bool:
    return _is_binary(head, size) or _is_text(head)


def read(data: bytes, _: Beside) -> Mesh:
    """The triangles of an STL file, three vertices each: the format has no vertices that faces share."""
    if _is_binary(data, len(data)):
        rows = np.frombuffer(data, _ROW, offset=_HEADER)
        solids: list[tuple[bytes, Numbers]] = [(b"", rows["corners"].reshape(-1, 3))]
    elif _is_text(data[: 1 << 14]):
        solids = _solids(data.replace(b"\r\n", b"\n").replace(b"\r", b"\n"))
    else:
        raise UnreadableFrame("too-short" if len(data) >= _HEADER else "foreign")
    positions = np.concatenate([vertices for _, vertices in solids])
    faces = offsets_of(np.array([len(vertices) // 3 for _, vertices in solids]))
    parts = (
        Part(int(start), int(stop), Name(name) if name else None)
        for (name, _), start, stop in zip(solids, faces, faces[1:], strict=False)
    )
    count = len(positions)
    return Mesh(positions, corners_of(np.arange(0, count + 1, 3), np.arange(count)), parts=tuple(parts))


def _solids(text: bytes) -> list[tuple[bytes, Numbers]]:
    """Name and vertices (n, 3) of each solid of the ASCII form."""
    solids: list[tuple[bytes, Numbers]] = []
    for solid in _SOLID.finditer(text):
        words = _VERTEX.findall(solid[2])
        try:
            vertices = np.array(words).reshape(-1, 3).astype(np.float64)
        except ValueError as error:
            raise UnreadableFrame("broken-form", reason=str(error)) from error
        if len(vertices) % 3:
            raise UnreadableFrame("broken-form", reason="the number of vertices is not a multiple of three")
        solids.append((solid[1].strip(), vertices))
    if not solids:
        raise UnreadableFrame("too-short")
    return solids


def write(mesh: Mesh) -> bytes:
    """Binary, with the normals of the triangles. All faces must be triangles."""
    triangles = np.asarray(mesh.positions, np.float64)[mesh.corners.v.reshape(-1, 3)]
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    rows = np.zeros(len(triangles), _ROW)
    rows["normal"] = np.divide(normals, lengths, out=np.zeros_like(normals), where=lengths > 0)
    rows["corners"] = triangles
    return bytes(80) + struct.pack("<I", len(triangles)) + rows.tobytes()


FORMATS = (Format("stl", "STL", (b".stl",), frozenset(), _recognises, read, write),)
