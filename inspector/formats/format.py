"""A mesh file format: its content, and how its files are recognised, read and written."""

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
    """A kind of content that a format may hold. The value completes the phrase "can't hold ..."."""

    STATEMENTS = "lines of text that an importer could misread"
    UVS = "UVs"
    PARTIAL_UVS = "UVs that only some faces have"
    DEPTHS = "the third UV coordinate"
    COLOURS = "vertex colours"
    NORMALS = "normals"
    CORNER_NORMALS = "normals that differ between the faces of a vertex, or exist on only some faces"
    POLYGONS = "faces with more than three corners"
    SHARED = "vertices shared by faces"
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

The table of formats in the manual uses the same order.
"""


Beside = Callable[[str], bytes]
"""A function that reads a file to which a mesh file refers. Its argument is the path of that file, relative to the mesh
file's folder. It raises UnreadableFrame if the file can't be read."""


class Content(Protocol):
    """The bytes of a file. If the file is large, each slice is read only when it is requested."""

    def __len__(self) -> int: ...

    def __getitem__(self, part: slice, /) -> bytes: ...


@dataclass(frozen=True, slots=True)
class SceneFormat:
    """The functions that open and write the files of a scene format.

    Attributes:
        open: Opens a file as an animation. Raises UnreadableFrame if the file can't be read, and MeshqcError if a
            Python library that the format needs is not installed.
        write: Makes a writer for a new file. Raises MeshqcError if a Python library that the format needs is not
            installed.
        ending: File name extension of written files, with the dot.
        need: Raises MeshqcError if a Python library that the format needs is not installed. The message names the
            package to install.
    """

    open: Callable[[Path, Opening], Animation]
    write: Callable[[Path, Brief], AnimationWriter]
    ending: str
    need: Callable[[], None]


@dataclass(frozen=True, slots=True)
class Format:
    """A format of mesh files.

    Attributes:
        id: Identifier of the format in JSON and options.
        title: Name of the format, as shown to people.
        endings: File name extensions, with the dot and in lower case. The usual extension comes first.
        carries: The kinds of content that a file can hold.
        recognises: Returns whether a file is in this format, given its first 16 kB and its size in bytes.
        read: Reads a file, given its content and a function that reads referenced files. Raises UnreadableFrame if the
            file can't be read. None for OBJ, which has its own reader, and for scene files.
        write: Returns the bytes of a file that holds a mesh. None for OBJ, for scene files, and for formats that this
            package doesn't write.
        alone: Whether a file can always be read without other files.
        scene: Opens and writes files that hold a whole animation; None for formats of frame files.
        leaves: The changes, in plain words, that writing makes although the format could hold the original content; ""
            if there are none.
        merges: The kinds of content in `carries` that a written file doesn't have, because writing merges them.
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
