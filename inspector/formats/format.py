"""The definition of a format of mesh files: how it is recognised, what it can carry, how it is read and written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:  # every run imports the formats, and few open an animation
    from inspector.formats.animation import Animation, AnimationWriter, Brief, Opening
    from inspector.formats.mesh import Mesh


class Trait(Enum):
    """The kinds of content that a format may carry, in words that fit after "can't hold"."""

    STATEMENTS = "lines of text that an import could misread"
    UVS = "UVs"
    PARTIAL_UVS = "UVs that only some faces have"
    DEPTHS = "the third number of UVs"
    COLOURS = "vertex colours"
    NORMALS = "normals"
    CORNER_NORMALS = "normals that differ between the faces at a vertex, or that only some faces have"
    POLYGONS = "faces with more than three corners"
    SHARED = "vertices that faces share"
    OBJECTS = "objects"
    GROUPS = "groups"
    SMOOTHING = "smoothing groups"
    MATERIALS = "materials"
    SURFACES = "colours and maps of materials"
    LIBRARIES = "material libraries in files of their own"
    LOOSE = "vertices that no face uses"
    CLOUDS = "points without faces"
    CURVES = "points, lines, curves and free-form surfaces"
    GAPS = "gaps in the frame numbers"


CONTENT = tuple(one for one in Trait if one not in (Trait.STATEMENTS, Trait.POLYGONS, Trait.SHARED, Trait.LIBRARIES))
"""The kinds of content that a delivery in another format either keeps, or reports as lost before anything is written.
They are in the order of the table."""


Beside = Callable[[str], bytes]
"""Reads a file that a mesh file names, relative to its own folder. Raises UnreadableFrame."""


class Content(Protocol):
    """The bytes of a file. Slices of a large file are read when they are asked for."""

    def __len__(self) -> int: ...

    def __getitem__(self, part: slice, /) -> bytes: ...


@dataclass(frozen=True, slots=True)
class SceneFormat:
    """How a format holds a whole animation.

    Attributes:
        open: Opens the animation in a file. Raises UnreadableFrame, or MeshqcError that names the package to install.
        write: Makes the writer of a new file. Raises MeshqcError that names the package to install.
        ending: Ending of a file that is written.
        need: Raises MeshqcError if a library is missing.
    """

    open: Callable[[Path, Opening], Animation]
    write: Callable[[Path, Brief], AnimationWriter]
    ending: str
    need: Callable[[], None]


@dataclass(frozen=True, slots=True)
class Format:
    """A format of mesh files.

    Attributes:
        id: Its name in JSON and options.
        title: Its name for people.
        endings: Endings of file names, with the dot and in lower case, the usual one first.
        carries: The kinds of content that a file can hold.
        recognises: Whether a file is in this format, by its first 16 kB and its size in bytes.
        read: Reads a file, given its content and a reader of files beside it; raises UnreadableFrame. None for OBJ,
            which has a reader of its own that keeps every byte, and for scene files.
        write: Writes a file; None if the format isn't written as frames.
        alone: Whether a file can always be read without another file beside it.
        scene: How a file holds a whole animation; such a file is not a frame.
        leaves: The content that is not written although the format could carry it, in plain words.
        merges: The part of `carries` that a written file doesn't have.
    """

    id: str
    title: str
    endings: tuple[bytes, ...]
    carries: frozenset[Trait]
    recognises: Callable[[bytes, int], bool]
    read: Callable[[Content, Beside], Mesh] | None
    write: Callable[[Mesh], bytes] | None = None
    alone: bool = True
    scene: SceneFormat | None = None
    leaves: str = ""
    merges: frozenset[Trait] = frozenset()

    @property
    def keeps(self) -> frozenset[Trait]:
        """The kinds of content of a written file."""
        return self.carries - self.merges
