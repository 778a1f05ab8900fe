"""STL, binary and ASCII, read through trimesh. Source of the binary form: 80 bytes of header, a count n, 50 bytes for
each triangle, so 84 + 50 n bytes in all (3D Systems, "StereoLithography Interface Specification", 1989; from memory).
"""

from __future__ import annotations

import io
import struct
import warnings
from typing import Any

import numpy as np

from inspector.formats.format import Beside, Format
from inspector.formats.mesh import Mesh, Part, corners_of, offsets_of
from inspector.formats.problems import UnreadableFrame
from inspector.names import Name

_Solids = list[tuple[str | None, dict[str, Any]]]
_HEADER, _TRIANGLE = 84, 50
_ROW = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def _is_binary(head: bytes, size: int) -> bool:
    # A binary header may begin with "solid" as well: only the size tells for sure.
    return size >= _HEADER and size == _HEADER + _TRIANGLE * struct.unpack_from("<I", head, 80)[0]


def _recognises(head: bytes, size: int) -> bool:
    return _is_binary(head, size) or (head.lstrip().lower().startswith(b"solid") and b"facet" in head.lower())


def read(data: bytes, _: Beside) -> Mesh:
    """The triangles of an STL file, three vertices each: the format has no vertices that faces share."""
    from trimesh.exchange.stl import load_stl_ascii, load_stl_binary

    if not _is_binary(data[:_HEADER], len(data)) and not _recognises(data[:4096], len(data)):
        raise UnreadableFrame("too-short" if len(data) >= _HEADER else "foreign")
    try:
        if _is_binary(data[:_HEADER], len(data)):
            solids: _Solids = [(None, load_stl_binary(io.BytesIO(data)))]
        else:
            with warnings.catch_warnings():
                warnings.simplefilter("error", DeprecationWarning)  # numpy's way to say: a number that is none
                loaded = load_stl_ascii(io.BytesIO(data))
            solids = list(loaded["geometry"].items()) if "geometry" in loaded else [(_name(loaded), loaded)]
    except (ValueError, DeprecationWarning) as error:
        raise UnreadableFrame("broken-form", reason=str(error)) from error
    solids = [(name, solid) for name, solid in solids if "vertices" in solid]
    if not solids:
        raise UnreadableFrame("no-mesh")
    positions = np.concatenate([solid["vertices"] for _, solid in solids])
    faces = offsets_of(np.array([len(solid["vertices"]) // 3 for _, solid in solids]))
    parts = (
        Part(int(start), int(stop), None if name is None else Name(str(name).encode("utf-8", "surrogateescape")))
        for (name, _), start, stop in zip(solids, faces, faces[1:], strict=False)
    )
    count = len(positions)
    return Mesh(positions, corners_of(np.arange(0, count + 1, 3), np.arange(count)), parts=tuple(parts))


def _name(solid: dict[str, Any]) -> str | None:
    return solid.get("metadata", {}).get("name") or None


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
