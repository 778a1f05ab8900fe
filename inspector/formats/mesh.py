"""A mesh as plain arrays. All formats except OBJ are read and written as a `Mesh`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.arrays import Indices, SmallIndices
from inspector.formats.frame import ABSENT, Corners
from inspector.names import Name, counted, joined_words

Numbers = npt.NDArray[np.floating[Any]]
Offsets = npt.NDArray[np.signedinteger[Any]]


@dataclass(frozen=True, slots=True)
class Image:
    """A texture.

    Attributes:
        name: The relative path that the material states. For a tiled texture, it contains `<UDIM>` in place of a tile's
            number.
        data: The bytes of a texture inside the mesh file; None for a separate file.
        tiles: Number and bytes of each tile of a tiled texture; empty for any other texture.
    """

    name: Name
    data: bytes | None = field(default=None, repr=False)
    tiles: tuple[tuple[int, bytes], ...] = field(default=(), repr=False)


class Slot(Enum):
    """The material property that a map controls; the value is the word shown to users."""

    COLOUR = "colour"
    OPACITY = "opacity"
    ROUGHNESS = "roughness"
    METALLIC = "metallic"
    NORMAL = "normal"
    EMISSIVE = "emissive"


Colour = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Map:
    """A texture in one slot of a material.

    Attributes:
        slot: The property that the map controls.
        image: The texture.
        channel: The channel to use if the slot needs one number per pixel: "r", "g", "b" or "a"; "" if not stated.
        strength: Factor for the slopes of a normal map.
        clamp: True if the texture doesn't repeat.
    """

    slot: Slot
    image: Image
    channel: str = ""
    strength: float = 1.0
    clamp: bool = False


@dataclass(frozen=True, slots=True)
class Material:
    """A material, with the properties that both glTF and OpenUSD have. A map is multiplied by the number or colour of
    its slot.

    Attributes:
        name: Name of the material, unique in the file.
        colour: Red, green and blue, 0 to 1, linear or not depending on the format; None if not stated.
        opacity: From 0 (invisible) to 1 (opaque).
        roughness: From 0 (a mirror) to 1 (matt); None if not stated.
        metallic: From 0 to 1; None if not stated.
        emissive: Red, green and blue of the emitted light; None if not stated.
        maps: The maps, at most one per slot.
        tr: The value of `Tr` in a material without `d`, if it makes a difference whether `Tr` means opacity or
            transparency; None for any other material.
    """

    name: Name
    colour: Colour | None = None
    opacity: float = 1.0
    roughness: float | None = None
    metallic: float | None = None
    emissive: Colour | None = None
    maps: tuple[Map, ...] = ()
    tr: float | None = None

    def map(self, slot: Slot) -> Map | None:
        """Return the map in a slot; None if the slot has no map."""
        return next((one for one in self.maps if one.slot is slot), None)


@dataclass(frozen=True, slots=True)
class Part:
    """Consecutive faces, `start:stop`, that have the same object and the same material.

    Attributes:
        start: Index of the first face, from 0.
        stop: Index of the last face, plus 1.
        object: Name of the object; None if there is none.
        material: Name of the material; None if there is none.
    """

    start: int
    stop: int
    object: Name | None = None
    material: Name | None = None


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Content that was left out when a file was read or converted.

    Attributes:
        what: The content in plain words, such as "the opacity of vertex colours".
        seen: Whether the picture changes without this content.
    """

    what: str
    seen: bool = False


def separate_uvs(layouts: Mapping[Slot, object], used: object) -> list[str]:
    """Describe the maps of a material that use different UVs from those that the mesh will have.

    Args:
        layouts: The UVs of each map.
        used: The UVs that the mesh will have.

    Returns:
        A list with one text for users; empty if there are no such maps.
    """
    others = [slot.value for slot, layout in layouts.items() if layout != used]
    if not others:
        return []
    return [f"separate UVs for its {joined_words(others, 'and')} {'map' if len(others) == 1 else 'maps'}"]


@dataclass(frozen=True, eq=False)
class Mesh:
    """A mesh, as its file describes it. Arrays of numbers are float32 or float64, as in the file.

    Attributes:
        positions: Positions of the vertices, (n, 3).
        corners: The faces, as indices into positions, UVs and normals.
        uvs: The UVs, (m, 2), with their origin at the bottom left, as in OBJ.
        normals: The normals, (k, 3).
        parts: The parts, which cover all faces in order.
        materials: The materials of the parts, and any other materials of the file.
        colours: Red, green and blue of each vertex, (n, 3), 0 to 1; empty if there are no colours.
        left_out: The content that was left out, for the report.
        double_sided: Whether the backs of faces are visible; read from OpenUSD, and written to OpenUSD and glTF.
    """

    positions: Numbers
    corners: Corners
    uvs: Numbers = field(default_factory=lambda: np.zeros((0, 2)))
    normals: Numbers = field(default_factory=lambda: np.zeros((0, 3)))
    parts: tuple[Part, ...] = ()
    materials: tuple[Material, ...] = ()
    colours: Numbers = field(default_factory=lambda: np.zeros((0, 3)))
    left_out: tuple[LeftOut, ...] = ()
    double_sided: bool = False

    def __post_init__(self) -> None:
        faces = len(self.corners.offsets) - 1
        if [*(part.start for part in self.parts), faces] != [0, *(part.stop for part in self.parts)]:
            raise ValueError(
                f"the parts don't cover all faces in order (faces: {faces}); "
                f"a part that covers all faces is Part(0, {faces})"
            )


def corners_of(
    offsets: npt.NDArray[np.integer[Any]],
    v: npt.NDArray[np.integer[Any]],
    vt: npt.NDArray[np.integer[Any]] | None = None,
    vn: npt.NDArray[np.integer[Any]] | None = None,
) -> Corners:
    """Make `Corners` from arrays of any integer type.

    Args:
        offsets: Index of the first corner of each face, followed by the total number of corners, (f + 1,).
        v: Vertex index of each corner, from 0, (c,).
        vt: UV index of each corner, from 0, (c,); None if no corner has a UV.
        vn: Normal index of each corner, from 0, (c,); None if no corner has a normal.
    """
    none = np.full(len(v), ABSENT, np.int32)
    slots: list[SmallIndices] = [none if slot is None else slot.astype(np.int32) for slot in (v, vt, vn)]
    starts: Indices = offsets.astype(np.int64)
    return Corners(starts, *slots)


def legal(indices: Offsets, count: int) -> Offsets:
    """Replace indices below 0 or above `count` with `count`, because OBJ can't represent some of them.

    No element has the index `count`, so a check still reports the replaced indices.

    Args:
        indices: Indices from 0, of any shape.
        count: Number of elements to which the indices refer.
    """
    return np.where((indices < 0) | (indices > count), count, indices)


def offsets_of(sizes: npt.NDArray[np.integer[Any]]) -> Indices:
    """Convert the number of corners of each face, (f,), to offsets.

    Returns:
        Index of the first corner of each face, followed by the total number of corners, (f + 1,) int64.
    """
    offsets = np.zeros(len(sizes) + 1, np.int64)
    np.cumsum(sizes, out=offsets[1:])
    return offsets


def distinct_rows(values: Numbers) -> tuple[Numbers, Offsets]:
    """Remove each row of an array, (n, c), that has the same bytes as an earlier row.

    Returns:
        The distinct rows in order of first use, and the index of each original row among them, (n,).
    """
    rows = np.ascontiguousarray(values).view(np.dtype((np.void, values.shape[1] * values.dtype.itemsize))).reshape(-1)
    _, first, inverse = np.unique(rows, return_index=True, return_inverse=True)
    rank = np.argsort(np.argsort(first))
    return values[np.sort(first)], rank[inverse.reshape(-1)]


def of_vertices(values: Numbers, slot: SmallIndices, v: SmallIndices, count: int) -> Numbers | None:
    """Convert values of corners to values of vertices.

    Args:
        values: The values to which the corners refer, (k, c).
        slot: Index of each corner's value, from 0, (n,); ABSENT if the corner has no value.
        v: Vertex index of each corner, (n,); ABSENT if the corner has no vertex.
        count: Number of vertices.

    Returns:
        One row for each vertex, (count, c), with zeros for vertices without corners; `values` itself if it already has
        this order. None if the corners of a vertex have different values, if a corner has only a vertex or only a
        value, or if no corner has both.
    """
    if len(values) == count > 0 and np.array_equal(slot, v):
        return values
    absent = v == ABSENT
    if absent.all() or not len(values) or not np.array_equal(slot == ABSENT, absent):
        return None
    slot, v = slot[~absent], v[~absent]
    rows = np.zeros((count, values.shape[1]), values.dtype)
    rows[v] = values[slot]
    return rows if np.array_equal(rows[v], values[slot]) else None


def split_at_seams(mesh: Mesh) -> Mesh:
    """Split vertices at UV seams, so that each vertex has one UV. Every corner must have a UV.

    A vertex keeps the UV of its first corner; for each further UV, a vertex is added at the end. If a corner has no
    vertex, the mesh is returned unchanged.
    """
    corners = mesh.corners
    if (corners.v == ABSENT).any():
        return mesh
    rows, number = distinct_rows(mesh.uvs)
    pairs, first, inverse = np.unique(
        corners.v * np.int64(len(rows)) + number[corners.vt], return_index=True, return_inverse=True
    )
    order = np.argsort(first)  # pairs in the order of their first corners
    vertex = pairs[order] // len(rows)
    _, leading = np.unique(vertex, return_index=True)
    new = np.ones(len(order), bool)
    new[leading] = False
    place = np.where(new, len(mesh.positions) + np.cumsum(new) - 1, vertex)
    v = np.empty(len(order), np.int64)
    v[order] = place
    origin = np.concatenate([np.arange(len(mesh.positions)), vertex[new]])
    uvs = np.zeros((len(origin), rows.shape[1]), rows.dtype)
    uvs[place] = rows[pairs[order] % len(rows)]
    own = v[inverse.reshape(-1)]
    return replace(
        mesh,
        positions=mesh.positions[origin],
        colours=mesh.colours[origin] if len(mesh.colours) else mesh.colours,
        uvs=uvs,
        corners=corners_of(corners.offsets, own, own, corners.vn),
    )


def join_meshes(meshes: Sequence[Mesh], materials: tuple[Material, ...]) -> Mesh:
    """Join meshes into one, in the given order.

    Args:
        meshes: At least one mesh.
        materials: All materials of the result.
    """
    pieces = [_Shifted(mesh, before) for mesh, before in zip(meshes, _counts_before(meshes), strict=True)]
    return Mesh(
        np.concatenate([mesh.positions for mesh in meshes]),
        corners_of(
            offsets_of(np.concatenate([mesh.corners.sizes for mesh in meshes])),
            *(np.concatenate([piece.slots[slot] for piece in pieces]) for slot in range(3)),
        ),
        np.concatenate([mesh.uvs for mesh in meshes]),
        np.concatenate([mesh.normals for mesh in meshes]),
        tuple(part for piece in pieces for part in piece.parts),
        materials,
        joined_colours(meshes),
        tuple(dict.fromkeys(one for mesh in meshes for one in mesh.left_out)),
    )


def joined_colours(meshes: Sequence[Mesh]) -> Numbers:
    """Join the vertex colours of meshes. Vertices of a mesh without colours become white.

    Returns:
        Colours of all vertices, (n, 3); empty if no mesh has colours.
    """
    if not any(len(mesh.colours) for mesh in meshes):
        return np.zeros((0, 3))
    return np.concatenate([mesh.colours if len(mesh.colours) else np.ones((len(mesh.positions), 3)) for mesh in meshes])


_UNIT = 1e-4
"""A normal is scaled only if its length differs from 1 by more than this value. Rounding to four decimal places changes
the length by less than this value."""


def unit_normals(normals: Numbers) -> Numbers:
    """Scale normals, (n, 3), to length 1, unless the length is 0 or differs from 1 by at most `_UNIT`."""
    lengths = np.linalg.norm(normals.astype(np.float64), axis=1, keepdims=True)
    off = (np.abs(lengths - 1) > _UNIT) & (lengths > 0)
    return np.where(off, normals / np.where(off, lengths, 1.0), normals)


def with_face_normals(mesh: Mesh) -> tuple[Numbers, SmallIndices]:
    """Give each corner a normal of length 1.

    A corner without a normal, or with a normal of length 0, gets the normal of its face (Newell's method). The normal
    of a zero-area face is (0, 1, 0).

    Returns:
        The normals, (k, 3), and the normal index of each corner, (c,) int32.
    """
    corners = mesh.corners
    normals = unit_normals(mesh.normals)
    absent = corners.vn == ABSENT
    absent[~absent] = ~np.any(normals[corners.vn[~absent]] != 0, axis=1)
    if not absent.any():
        return normals, corners.vn
    faces = np.flatnonzero(np.bincount(corners.face_of_corner()[absent], minlength=len(corners.sizes)))
    picked = corners.picked(faces)
    starts, sizes = picked.offsets[:-1], picked.sizes
    at = np.arange(len(picked.v))
    last = np.repeat(starts + sizes - 1, sizes)
    here, there = (
        mesh.positions[picked.v[index]].astype(np.float64)
        for index in (at, np.where(at == last, np.repeat(starts, sizes), at + 1))
    )
    sums = np.add.reduceat(np.cross(here, there), starts, axis=0)
    size = np.linalg.norm(sums, axis=1, keepdims=True)
    flat = np.where(size > 0, sums / np.where(size > 0, size, 1.0), (0.0, 1.0, 0.0))
    number = np.zeros(len(corners.sizes), np.int64)
    number[faces] = len(normals) + np.arange(len(faces))
    vn = np.where(absent, number[corners.face_of_corner()], corners.vn)
    return np.concatenate([normals, flat]), vn.astype(np.int32)


_MOST_NAMED = 40
"""Maximum number of entries to list. A file can have a hundred thousand materials."""


def few(left_out: Iterable[LeftOut]) -> tuple[LeftOut, ...]:
    """Drop repeated entries, then keep the first `_MOST_NAMED` entries.

    If entries are cut off, a final entry states their number.
    """
    found = tuple(dict.fromkeys(left_out))
    more = found[_MOST_NAMED:]
    if not more:
        return found
    rest = LeftOut(f"{counted(len(more), 'more item')} of the same kinds", seen=any(one.seen for one in more))
    return (*found[:_MOST_NAMED], rest)


class _Shifted:
    """The indices and parts of a mesh, shifted by the numbers of elements in all previous meshes."""

    def __init__(self, mesh: Mesh, before: tuple[int, int, int, int]) -> None:
        vertices, uvs, normals, faces = before
        corners = mesh.corners
        pairs = ((corners.v, vertices), (corners.vt, uvs), (corners.vn, normals))
        self.slots = [np.where(slot == ABSENT, ABSENT, slot + count) for slot, count in pairs]
        self.parts = [replace(part, start=part.start + faces, stop=part.stop + faces) for part in mesh.parts]


def _counts_before(meshes: Sequence[Mesh]) -> list[tuple[int, int, int, int]]:
    counts = np.array([(len(one.positions), len(one.uvs), len(one.normals), len(one.corners.sizes)) for one in meshes])
    before = np.cumsum(counts, axis=0) - counts
    return [(int(a), int(b), int(c), int(d)) for a, b, c, d in before]


def mirrored(corners: Corners) -> Corners:
    """Reverse the winding of all faces. Each face keeps its first corner."""
    sizes = corners.sizes
    starts = np.repeat(corners.offsets[:-1], sizes)
    within = np.arange(len(corners.v)) - starts
    order = starts + (np.repeat(sizes, sizes) - within) % np.maximum(np.repeat(sizes, sizes), 1)
    return Corners(corners.offsets, corners.v[order], corners.vt[order], corners.vn[order])


def placed(mesh: Mesh, world: Numbers) -> Mesh:
    """Transform a mesh by a matrix. A mirroring matrix reverses the winding, so that each face keeps its front.

    Args:
        mesh: The mesh, which is returned as it is if the matrix is the identity.
        world: Matrix for column vectors, (4, 4), with the last row 0 0 0 1.
    """
    if np.array_equal(world, np.eye(4)):
        return mesh
    linear = world[:3, :3]
    determinant = np.linalg.det(linear)
    normals = mesh.normals
    if determinant != 0 and len(normals):  # multiply by the inverse transpose, then scale to length 1
        turned = normals.astype(np.float64) @ np.linalg.inv(linear)
        lengths = np.linalg.norm(turned, axis=1, keepdims=True)
        normals = np.divide(turned, lengths, out=np.zeros_like(turned), where=lengths > 0)
    return replace(
        mesh,
        positions=mesh.positions.astype(np.float64) @ linear.T + world[:3, 3],
        normals=normals,
        corners=mirrored(mesh.corners) if determinant < 0 else mesh.corners,
    )
