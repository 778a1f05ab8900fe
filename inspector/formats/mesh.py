"""What a mesh file of any format holds, as plain arrays: the way in from other formats, and the way out to them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.formats.frame import ABSENT, Corners, IndexArray, OffsetArray
from inspector.names import Name

Numbers = npt.NDArray[np.floating[Any]]
Offsets = npt.NDArray[np.signedinteger[Any]]


@dataclass(frozen=True, slots=True)
class Image:
    """A texture. name: as the material names it, a relative path; data: its bytes, where they stand inside the mesh
    file; None where it is a file of its own."""

    name: Name
    data: bytes | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class Material:
    """colour: red, green, blue, 0 to 1, linear or not as the format has it; opacity: 1 is opaque; image: of the
    colour."""

    name: Name
    colour: tuple[float, float, float] | None = None
    opacity: float = 1.0
    image: Image | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """Faces `start:stop` with one object and one material; None where there is none."""

    start: int
    stop: int
    object: Name | None = None
    material: Name | None = None


@dataclass(frozen=True, eq=False)
class Mesh:
    """positions (n, 3), uvs (m, 2), normals (k, 3), float32 or float64 as the file has them: the type says how many
    digits carry them over exactly. `parts` cover all faces in order. Origin of UVs: bottom left, as in OBJ."""

    positions: Numbers
    corners: Corners
    uvs: Numbers = field(default_factory=lambda: np.zeros((0, 2)))
    normals: Numbers = field(default_factory=lambda: np.zeros((0, 3)))
    parts: tuple[Part, ...] = ()
    materials: tuple[Material, ...] = ()


def corners_of(
    offsets: npt.NDArray[np.integer[Any]],
    v: npt.NDArray[np.integer[Any]],
    vt: npt.NDArray[np.integer[Any]] | None = None,
    vn: npt.NDArray[np.integer[Any]] | None = None,
) -> Corners:
    """Corners from arrays of any integer type; without vt or vn those are ABSENT throughout."""
    none = np.full(len(v), ABSENT, np.int32)
    slots: list[IndexArray] = [none if slot is None else slot.astype(np.int32) for slot in (v, vt, vn)]
    starts: OffsetArray = offsets.astype(np.int64)
    return Corners(starts, *slots)


def legal(indices: Offsets, count: int) -> Offsets:
    """Indices counted from 0; those below 0 or too large for int32 become `count`, which is out of range as well and
    can be written: OBJ has no other word for them."""
    return np.where((indices < 0) | (indices > count), count, indices)


def offsets_of(sizes: npt.NDArray[np.integer[Any]]) -> OffsetArray:
    """Where each face's corners begin, and the end: (f + 1,) from the corners of each face, (f,)."""
    offsets = np.zeros(len(sizes) + 1, np.int64)
    np.cumsum(sizes, out=offsets[1:])
    return offsets
