"""What a format of mesh files is: how it is recognised, what it can carry, how it is read and written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from inspector.formats.animation import SceneFormat
from inspector.formats.mesh import Mesh


class Trait(Enum):
    """What a format may carry, in words that fit behind "can't hold"."""

    STATEMENTS = "lines of text that an import could misread"
    UVS = "UVs"
    PARTIAL_UVS = "UVs that only some faces have"
    COLOURS = "vertex colours"
    NORMALS = "normals"
    POLYGONS = "faces with more than three corners"
    SHARED = "vertices that faces share"
    OBJECTS = "objects"
    GROUPS = "groups"
    MATERIALS = "materials"
    SURFACES = "colours and maps of materials"
    LIBRARIES = "material libraries in files of their own"
    GAPS = "gaps in the frame numbers"


CONTENT = (*(Trait.UVS, Trait.PARTIAL_UVS, Trait.NORMALS, Trait.COLOURS, Trait.MATERIALS, Trait.SURFACES, Trait.GAPS),)
"""What a delivery in another format keeps, or names as lost before it is written, in the order of a table of it."""


Beside = Callable[[str], bytes]
"""Gives the bytes of a file that a mesh file names, seen from its own folder. Raises UnreadableFrame."""


@dataclass(frozen=True, slots=True)
class Format:
    """title: for people. endings: of file names, in lower case, the usual one first. recognises: by the first
    _RECOGNISED_BYTES and the size of the file.

    read raises UnreadableFrame; None for OBJ, which has a reader of its own that keeps every byte. write: None where
    it isn't written. alone: whether a file never needs another one beside it to be read. scene: of a format whose file
    holds a whole animation; such a file is no frame.
    leaves: what writing leaves out beside what the format can't carry, in plain words.
    """

    id: str
    title: str
    endings: tuple[bytes, ...]
    carries: frozenset[Trait]
    recognises: Callable[[bytes, int], bool]
    read: Callable[[bytes, Beside], Mesh] | None
    write: Callable[[Mesh], bytes] | None = None
    alone: bool = True
    scene: SceneFormat | None = None
    leaves: str = ""
