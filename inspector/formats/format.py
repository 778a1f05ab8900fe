"""The definition of a format of mesh files: how it is recognised, what it can carry, and how it is read and written."""

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
    DEPTHS = "the third UV coordinate"
    COLOURS = "vertex colours"
    NORMALS = "normals"
    CORNER_NORMALS = "normals that differ between the faces at a vertex, or exist on only some faces"
    POLYGONS = "faces with more than three corners"
    SHARED = "vertices that faces share"
    OBJECTS = "objects"
    GROUPS = "groups"
    SMOOTHING = "smoothing groups"
    MATERIALS = "materials"
    SURFACES = "material colours and texture maps"
    LIBRARIES = "material libraries in separate files"
    LOOSE = "vertices that no face uses"
    CLOUDS = "points without faces"
    CURVES = "points, lines, curves and free-form surfaces"
    GAPS = "gaps in the frame numbers"


CONTENT = tuple(one for one in Trait if one not in (Trait.STATEMENTS, Trait.POLYGONS, Trait.SHARED, Trait.LIBRARIES))
"""The kinds of content that a delivery in another format either keeps, or reports as lost before anything is written.
The manual's table of content by format has its rows in this order."""


Beside = Callable[[str], bytes]
"""A function that reads a file which a mesh file names by a path relative to the mesh file's folder. It raises
UnreadableFrame if the file can't be read.
"""


class Content(Protocol):
    """The bytes of a file. A slice of a large file is read only when it is requested."""

    def __len__(self) -> int: ...

    def __getitem__(self, part: slice, /) -> bytes: ...


@dataclass(frozen=True, slots=True)
class SceneFormat:
    """The functions that open and write files of a format whose files hold a whole animation.

    Attributes:
        open: Opens the animation in a file. Raises UnreadableFrame if the file can't be read, or MeshqcError if a
            library that the format needs is missing.
        write: Makes a writer for a new file. Raises MeshqcError if a library that the format needs is missing.
        ending: File name ending of a written file, with the dot.
        need: Checks that the libraries which the format needs are installed. Raises MeshqcError, whose message names
            the package to install, if one is missing.
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
        endings: File name endings, with the dot and in lower case, the usual ending first.
        carries: The kinds of content that a file can hold.
        recognises: Returns whether a file is in this format, given its first 16 kB and its size in bytes.
        read: Reads a file, given its content and a function that reads the files beside it; raises UnreadableFrame if
            that fails. None for OBJ, which has a reader of its own that keeps every byte, and for scene files.
        write: Returns the bytes of a file that holds a mesh; None if this package doesn't write the format, and for OBJ
            and scene files.
        alone: Whether a file can always be read without another file beside it.
        scene: Opens and writes files that hold a whole animation; None for formats of frame files.
        leaves: How a written file differs from what the format could hold, in plain words.
        merges: The kinds of content in `carries` that a written file doesn't have.
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
        """The kinds of content that a written file can have."""
        return self.carries - self.merges
