"""PLY, ASCII and binary. Source: G. Turk, "The PLY Polygon File Format", 1994.

Not through trimesh: it cuts every polygon into triangles, so that counts and indices would no longer be the file's.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from inspector.formats.format import Beside, Format, Trait
from inspector.formats.frame import ABSENT, Corners
from inspector.formats.mesh import Mesh, Numbers, Offsets, Part, corners_of, distinct_rows, legal, offsets_of
from inspector.formats.ply_elements import Element, Lists, read_elements
from inspector.formats.problems import UnreadableFrame

# The 1994 document names x, y, z and vertex_indices only; the other names are what writers use (common practice, no
# source).
_INDICES = ("vertex_indices", "vertex_index")
_UV_PAIRS = (("s", "t"), ("u", "v"), ("texture_u", "texture_v"))


def _recognises(head: bytes, _: int) -> bool:
    return head.startswith((b"ply\n", b"ply\r"))


def read(data: bytes, _: Beside) -> Mesh:
    """The mesh of a PLY file. UVs of vertices, or, where faces have a list `texcoord`, of corners."""
    elements = {element.name: element for element in read_elements(data)}
    vertices = elements.get("vertex")
    positions = None if vertices is None else _columns(vertices, ("x", "y", "z"))
    if vertices is None or positions is None:
        raise UnreadableFrame("no-mesh")
    offsets, v = _faces(elements.get("face"))
    v = legal(v, len(positions))
    uvs = next((pair for names in _UV_PAIRS if (pair := _columns(vertices, names)) is not None), None)
    normals = _columns(vertices, ("nx", "ny", "nz"))
    vt = None if uvs is None else v
    texcoord = elements["face"].values.get("texcoord") if "face" in elements else None
    if isinstance(texcoord, Lists) and len(texcoord.values) and uvs is None:
        uvs, vt = _corner_uvs(texcoord, offsets)
    return Mesh(
        positions,
        corners_of(offsets, v, vt, None if normals is None else v),
        np.zeros((0, 2)) if uvs is None else uvs,
        np.zeros((0, 3)) if normals is None else normals,
        (Part(0, len(offsets) - 1),),
    )


def _columns(element: Element, names: tuple[str, ...]) -> Numbers | None:
    """(n, len(names)) floats; None where one of them isn't there."""
    columns = [element.values.get(name) for name in names]
    if not all(isinstance(column, np.ndarray) for column in columns):
        return None
    table = np.column_stack([np.asarray(column) for column in columns])
    return table.astype(np.float32 if table.dtype.itemsize <= 4 and table.dtype.kind == "f" else np.float64)


def _faces(element: Element | None) -> tuple[Offsets, Offsets]:
    """Offsets of the faces, and the vertex index of every corner as the file has it."""
    named = {} if element is None else element.values
    lists = next((named[name] for name in _INDICES if name in named), None)
    if not isinstance(lists, Lists):
        return np.zeros(1, np.int64), np.zeros(0, np.int64)
    return offsets_of(lists.sizes), lists.values.astype(np.int64)


def _corner_uvs(texcoord: Lists, offsets: Offsets) -> tuple[Numbers, Offsets]:
    """UVs without those that repeat, in order of first use, and the index of every corner's."""
    pairs = texcoord.values[: len(texcoord.values) // 2 * 2].reshape(-1, 2)
    if not np.array_equal(texcoord.sizes, 2 * np.diff(offsets)):
        raise UnreadableFrame("broken-form", reason="a face's list texcoord doesn't hold two numbers a corner")
    return distinct_rows(pairs)


def write(mesh: Mesh) -> bytes:
    """Binary, little-endian. UVs go to the vertices where each vertex has one and has it by the same index; else to
    the corners. Normals only where they go with the same index: PLY has no other place for them."""
    corners = mesh.corners
    single = mesh.positions.dtype.itemsize <= 4
    columns: list[tuple[str, ...]] = [("x", "y", "z")]
    tables = [np.asarray(mesh.positions, "<f4" if single else "<f8")]
    if len(mesh.normals) == len(mesh.positions) and np.array_equal(corners.vn, corners.v):
        columns.append(("nx", "ny", "nz"))
        tables.append(np.asarray(mesh.normals, "<f4"))
    of_vertices = len(mesh.uvs) == len(mesh.positions) and np.array_equal(corners.vt, corners.v)
    if of_vertices:
        columns.append(("s", "t"))
        tables.append(np.asarray(mesh.uvs[:, :2], "<f4"))
    rows = _records([column for table in tables for column in table.T])
    names = [name for group in columns for name in group]
    kinds = ["double" if column.dtype.itemsize == 8 else "float" for table in tables for column in table.T]
    uvs = None if of_vertices or not len(mesh.uvs) or (corners.vt == ABSENT).any() else mesh.uvs[corners.vt, :2]
    header = [
        *("ply", "format binary_little_endian 1.0", f"element vertex {len(mesh.positions)}"),
        *(f"property {kind} {name}" for kind, name in zip(kinds, names, strict=True)),
        f"element face {len(corners.sizes)}",
        "property list int int vertex_indices",
        *(() if uvs is None else ("property list int float texcoord",)),
        "end_header",
    ]
    return "".join(f"{line}\n" for line in header).encode("ascii") + rows + _face_rows(corners, uvs)


def _records(columns: Sequence[Numbers]) -> bytes:
    """Row by row, each column in its own type."""
    table = np.zeros(len(columns[0]), [(f"c{number}", column.dtype) for number, column in enumerate(columns)])
    for number, column in enumerate(columns):
        table[f"c{number}"] = column
    return table.tobytes()


def _face_rows(corners: Corners, uvs: Numbers | None) -> bytes:
    """Rows of words of four bytes: length, indices, and, where there are UVs, length and UVs."""
    sizes = corners.sizes
    words = sizes + 1 if uvs is None else 3 * sizes + 2
    starts = offsets_of(words)
    rows = np.zeros(int(starts[-1]), "<i4")
    rows[starts[:-1]] = sizes
    within = np.arange(len(corners.v)) - np.repeat(corners.offsets[:-1], sizes)
    rows[np.repeat(starts[:-1] + 1, sizes) + within] = corners.v
    if uvs is not None:
        rows[starts[:-1] + 1 + sizes] = 2 * sizes
        places = np.repeat(starts[:-1] + 2 + sizes, sizes) + 2 * within
        values = np.ascontiguousarray(uvs, "<f4").view("<i4").reshape(-1, 2)
        rows[places], rows[places + 1] = values[:, 0], values[:, 1]
    return rows.tobytes()


FORMATS = (
    Format(
        "ply",
        "PLY",
        (b".ply",),
        frozenset({Trait.UVS, Trait.NORMALS, Trait.POLYGONS, Trait.SHARED}),
        _recognises,
        read,
        write,
        leaves="normals stay only where each vertex has one; numbers are single precision",
    ),
)
