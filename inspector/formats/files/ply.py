"""PLY, ASCII and binary. Source: G. Turk, "The PLY Polygon File Format", 1994.

trimesh is not used, because it cuts all polygons into triangles.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from inspector.formats.format import Beside, Content, Format, Trait
from inspector.formats.frame import ABSENT, Corners
from inspector.formats.mesh import (
    LeftOut,
    Mesh,
    Numbers,
    Offsets,
    Part,
    corners_of,
    distinct_rows,
    legal,
    of_vertices,
    offsets_of,
    split_at_seams,
)
from inspector.formats.ply_elements import Column, Element, Lists, PlyFile, read_elements
from inspector.formats.problems import UnreadableFrame

# The 1994 document defines only the names x, y, z and vertex_indices. The other names are those that exporters use
# (common practice, no source).
_INDICES = ("vertex_indices", "vertex_index")
_UV_PAIRS = (("s", "t"), ("u", "v"), ("texture_u", "texture_v"))
_COLOURS = (("red", "green", "blue"), ("r", "g", "b"), ("diffuse_red", "diffuse_green", "diffuse_blue"))
_OPACITY = ("alpha", "a", "opacity")
_COLOUR_DECIMALS = 6
"""Number of decimal places of an 8-bit or 16-bit colour that is converted to a fraction. At least five are needed to
distinguish 65,536 values.
"""
_COLOUR_ROUNDING = 5e-4
"""Colours are written as bytes if every colour value differs from a multiple of 1/255 by at most this amount. Rounding
to three decimal places causes differences of up to this amount."""


def _recognises(head: bytes, _: int) -> bool:
    return head.startswith((b"ply\n", b"ply\r"))


def read(data: Content, _: Beside) -> Mesh:
    """Read the mesh of a PLY file. UVs come from the vertices or, if these have none, from each face's `texcoord` list.

    Args:
        data: Content of the file.
        _: Not needed, because no other file is read.

    Raises:
        UnreadableFrame: The file is damaged, or has no vertices with x, y and z.
    """
    file = read_elements(data[:])
    elements = {element.name: element for element in file.elements}
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
        colours=_colours(vertices),
        left_out=tuple(_left_out(file)),
    )


def _columns(element: Element, names: tuple[str, ...]) -> Numbers | None:
    """Return columns as floats, (n, len(names)); None if a column is missing or contains lists."""
    columns = [element.values.get(name) for name in names]
    if not all(isinstance(column, np.ndarray) for column in columns):
        return None
    table = np.column_stack([np.asarray(column) for column in columns])
    return table.astype(np.float32 if table.dtype.itemsize <= 4 and table.dtype.kind == "f" else np.float64)


def _colours(vertices: Element) -> Numbers:
    """Return the red, green and blue of the vertices, (n, 3); empty if there are no colours.

    Whole numbers are divided by the largest number of their type. Floats are unchanged.
    """
    names = next((names for names in _COLOURS if all(_is_colour(vertices.values.get(one)) for one in names)), None)
    if names is None:
        return np.zeros((0, 3))
    columns = [np.asarray(vertices.values[name]) for name in names]
    if columns[0].dtype.kind == "f":
        return np.column_stack(columns)
    return np.round(np.column_stack([one / np.iinfo(one.dtype).max for one in columns]), _COLOUR_DECIMALS)


def _is_colour(column: Column | Lists | None) -> bool:
    return isinstance(column, np.ndarray) and (column.dtype.kind == "f" or column.dtype in (np.uint8, np.uint16))


def _left_out(file: PlyFile) -> Iterator[LeftOut]:
    known = {
        "vertex": {"x", "y", "z", "nx", "ny", "nz", *(one for pair in _UV_PAIRS for one in pair)},
        "face": {*_INDICES, "texcoord"},
    }
    for element in file.elements:
        if not element.rows:
            continue
        if element.name not in known:
            yield LeftOut(f"the PLY element `{element.name}`", seen=element.name in ("tristrips", "multi_texture_face"))
            continue
        names = element.values.keys() - known[element.name]
        if element.name == "vertex" and len(_colours(element)):
            names -= {one for group in _COLOURS for one in group}
            opacity = names & set(_OPACITY)
            names -= opacity
            for one in sorted(opacity):
                values = np.asarray(element.values[one])
                opaque = 1 if values.dtype.kind == "f" else np.iinfo(values.dtype).max
                if (values != opaque).any():
                    yield LeftOut("the opacity of vertex colours", seen=True)
        if element.name == "face" and any(names >= set(group) for group in _COLOURS):
            names -= {one for group in _COLOURS for one in (*group, *_OPACITY)}
            yield LeftOut("face colours", seen=True)
        if names:
            yield LeftOut(f"{element.name} properties: {', '.join(sorted(names))}")
    if file.extra_values:
        yield LeftOut("surplus values at the ends of rows")
    for comment in file.comments:
        if comment.startswith("TextureFile "):
            yield LeftOut(f"the texture named in the line `comment {comment}`", seen=True)


def _faces(element: Element | None) -> tuple[Offsets, Offsets]:
    """Return the offsets of the faces, (f + 1,), and the vertex index of each corner as in the file, (c,)."""
    named = {} if element is None else element.values
    lists = next((named[name] for name in _INDICES if name in named), None)
    if not isinstance(lists, Lists):
        return np.zeros(1, np.int64), np.zeros(0, np.int64)
    return offsets_of(lists.sizes), lists.values.astype(np.int64)


def _corner_uvs(texcoord: Lists, offsets: Offsets) -> tuple[Numbers, Offsets]:
    """Convert the UVs of each face's corners to distinct UVs, (m, 2), and the index of each corner's UV, (c,).

    The corners of a face with an empty list get ABSENT.

    Raises:
        UnreadableFrame: A list is not empty, but doesn't have two numbers per corner.
    """
    sizes = np.diff(offsets)
    given = texcoord.sizes > 0
    if not np.array_equal(texcoord.sizes, np.where(given, 2 * sizes, 0)):
        raise UnreadableFrame("broken-form", reason="the `texcoord` list of a face doesn't have two numbers per corner")
    uvs, indices = distinct_rows(texcoord.values.reshape(-1, 2))
    vt = np.full(int(offsets[-1]), ABSENT, np.int64)
    vt[np.repeat(given, sizes)] = indices
    return uvs, vt


def write(mesh: Mesh) -> bytes:
    """Write a mesh as a PLY file, with numbers in single precision.

    Because few readers support UVs of corners, a vertex with more than one UV becomes several vertices. All but the
    first of them are added at the end. If only some corners have a UV, each face gets a `texcoord` list instead.
    Normals are written only if every corner has a normal and all normals at each vertex are equal.

    The file is binary (little-endian) only if all faces have the same number of corners and no `texcoord` list, because
    common libraries (trimesh, meshio) assume equally long rows.
    """
    partial = bool((mesh.corners.vt == ABSENT).any())
    mesh = mesh if partial or not len(mesh.uvs) else split_at_seams(mesh)
    corners, of_corners = mesh.corners, partial and bool((mesh.corners.vt != ABSENT).any())
    columns: dict[str, Numbers] = dict(zip("xyz", np.asarray(mesh.positions, "<f4").T, strict=True))
    normals = of_vertices(mesh.normals, corners.vn, corners.v, len(mesh.positions))
    if normals is not None:
        columns |= dict(zip(("nx", "ny", "nz"), np.asarray(normals, "<f4").T, strict=True))
    if not partial and (uvs := of_vertices(mesh.uvs, corners.vt, corners.v, len(mesh.positions))) is not None:
        columns |= dict(zip("st", np.asarray(uvs[:, :2], "<f4").T, strict=True))
    if len(mesh.colours):
        columns |= dict(zip(("red", "green", "blue"), _octets(mesh.colours).T, strict=True))
    sizes = corners.sizes
    as_text = of_corners or bool((sizes != sizes[:1]).any())
    count = "uchar" if int(sizes.max(initial=0)) * (2 if of_corners else 1) < 256 else "int"
    header = [
        *("ply", f"format {'ascii' if as_text else 'binary_little_endian'} 1.0"),
        f"element vertex {len(mesh.positions)}",
        *(f"property {'uchar' if column.dtype.itemsize == 1 else 'float'} {name}" for name, column in columns.items()),
        *(f"element face {len(sizes)}", f"property list {count} int vertex_indices"),
        *((f"property list {count} float texcoord",) if of_corners else ()),
        "end_header",
    ]
    head = "".join(f"{line}\n" for line in header).encode("ascii")
    if as_text:
        return head + _vertex_lines(list(columns.values())) + _face_lines(corners, mesh.uvs if of_corners else None)
    return head + _records(list(columns.values())) + _face_rows(corners, "u1" if count == "uchar" else "<i4")


def _octets(colours: Numbers) -> Numbers:
    """Convert colours, (n, 3), to bytes, which common readers expect. If any colour is not close to a multiple of
    1/255, convert all to float32 instead.
    """
    octets = np.rint(np.clip(colours, 0.0, 1.0) * 255.0).astype(np.uint8)
    exact = (np.abs(octets / 255.0 - colours) <= _COLOUR_ROUNDING).all()
    return octets if exact else np.asarray(colours, "<f4")


def _records(columns: Sequence[Numbers]) -> bytes:
    """Write columns as binary rows. Each column keeps its type."""
    table = np.zeros(len(columns[0]), [(f"c{number}", column.dtype) for number, column in enumerate(columns)])
    for number, column in enumerate(columns):
        table[f"c{number}"] = column
    return table.tobytes()


def _face_rows(corners: Corners, count: str) -> bytes:
    """Write faces as binary rows. All faces must have the same number of corners. Each row begins with this number,
    stored with the NumPy type `count`."""
    size = int(corners.sizes[0]) if len(corners.sizes) else 0
    rows = np.zeros(len(corners.sizes), [("size", count), ("v", "<i4", (size,))])
    rows["size"], rows["v"] = size, corners.v.reshape(len(rows), size)
    return rows.tobytes()


def _vertex_lines(columns: Sequence[Numbers]) -> bytes:
    line = " ".join("%d" if column.dtype.itemsize == 1 else "%.9g" for column in columns) + "\n"
    table = np.column_stack([column.astype(np.float64) for column in columns])
    return (line * len(table) % tuple(table.ravel().tolist())).encode("ascii")


def _face_lines(corners: Corners, uvs: Numbers | None) -> bytes:
    """Write a line of text per face: the number of corners, the vertex indices and, if UVs are given, the `texcoord`
    list.

    The list begins with its length. It is empty if a corner of the face has no UV.
    """
    v, offsets = corners.v.tolist(), corners.offsets.tolist()
    pairs = [] if uvs is None else [f"{u:.9g} {v:.9g}" for u, v in np.asarray(uvs, np.float32).astype(float)[:, :2]]
    lines = []
    for start, stop in pairwise(offsets):
        words = [str(stop - start), *map(str, v[start:stop])]
        if uvs is not None:
            own = corners.vt[start:stop].tolist()
            given = [] if ABSENT in own else [pairs[index] for index in own]
            words += [str(2 * len(given)), *given]
        lines.append(" ".join(words) + "\n")
    return "".join(lines).encode("ascii")


FORMATS = (
    Format(
        "ply",
        "PLY",
        (b".ply",),
        frozenset(
            {
                *(Trait.UVS, Trait.PARTIAL_UVS, Trait.NORMALS, Trait.POLYGONS, Trait.SHARED, Trait.COLOURS),
                *(Trait.LOOSE, Trait.CLOUDS, Trait.GAPS),
            }
        ),
        _recognises,
        read,
        write,
        leaves="vertices with several UVs are split; numbers are stored in single precision",
    ),
)
