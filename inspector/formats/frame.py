"""One frame of a sequence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from inspector import _native
from inspector.arrays import Floats, Indices, SmallIndices
from inspector.formats.problems import Problem
from inspector.names import Name

ABSENT = -1
"""The value of an index that is missing or illegal in the file."""


FORM_BYTES = 1 << 12
"""Number of bytes to examine at the start of each list of numbers or faces, to find out how its numbers are written."""


@dataclass(frozen=True, slots=True)
class Block:
    """A run of consecutive lines with the same keyword.

    Attributes:
        keyword: The keyword; b"" for blank lines, b"#" for comments.
        start: Offset, in the frame's text, of the run's first byte.
        stop: Offset, in the frame's text, of the byte after the run's last byte.
        first_line: Number of the first line, from 1.
        lines: Number of physical lines.
    """

    keyword: bytes
    start: int
    stop: int
    first_line: int
    lines: int


@dataclass(frozen=True, slots=True, eq=False)
class Corners:
    """The corners of all faces. Face i has the corners `offsets[i]:offsets[i + 1]`. All arrays are read-only.

    Attributes:
        offsets: Index of the first corner of each face, followed by the total number of corners, (f + 1,) int64.
        v: Vertex index of each corner, from 0, (c,) int32; ABSENT if the file has no legal index.
        vt: UV index of each corner, from 0, (c,) int32; ABSENT if the corner has no UV.
        vn: Normal index of each corner, from 0, (c,) int32; ABSENT if the corner has no normal.
    """

    offsets: Indices
    v: SmallIndices
    vt: SmallIndices
    vn: SmallIndices

    @property
    def sizes(self) -> Indices:
        """Number of corners of each face, (f,) int64."""
        return np.diff(self.offsets)

    def face_of_corner(self) -> Indices:
        """Return the index of the face of each corner, (c,) int64."""
        return np.repeat(np.arange(len(self.offsets) - 1), self.sizes)

    def packed(self) -> tuple[Indices, SmallIndices]:
        """Return `offsets` and `v` as contiguous arrays, which the native core requires."""
        return np.ascontiguousarray(self.offsets), np.ascontiguousarray(self.v, np.int32)

    def faces_with(self, flags: npt.NDArray[np.bool_]) -> npt.NDArray[np.intp]:
        """Return, in ascending order, the indices of the faces that have at least one flagged corner.

        Args:
            flags: A flag for each corner, (c,).
        """
        # The number of flags before each face. This is twenty times as fast as numpy.unique on the corners' faces.
        before = np.concatenate([np.zeros(1, np.int64), np.cumsum(flags)])[self.offsets]
        return np.flatnonzero(before[1:] != before[:-1])

    def picked(self, faces: npt.NDArray[np.int64]) -> Corners:
        """Return a copy with only the faces that have the given indices, (k,), in the order of the indices."""
        sizes = self.sizes[faces]
        offsets = np.concatenate([np.zeros(1, np.int64), np.cumsum(sizes)])
        at = np.repeat(self.offsets[:-1][faces] - offsets[:-1], sizes) + np.arange(int(offsets[-1]))
        return Corners(offsets, self.v[at], self.vt[at], self.vn[at])


@dataclass(frozen=True, slots=True)
class FaceRun:
    """The faces of one block, and the names that apply to them; None for a name that is not set.

    Attributes:
        start: Index of the first face, from 0.
        stop: Index of the last face, plus 1.
        block: Index of the block in `Frame.blocks`.
        material: Name set by `usemtl`.
        group: Name set by `g`.
        object: Name set by `o`.
        smoothing: Smoothing group set by `s`, as written.
    """

    start: int
    stop: int
    block: int
    material: Name | None = None
    group: Name | None = None
    object: Name | None = None
    smoothing: Name | None = None


@dataclass(frozen=True, slots=True)
class LibraryLine:
    """An `mtllib` line.

    Attributes:
        name: The text after `mtllib`, which may contain more than one file name.
        line: Line number, from 1; 0 if the name doesn't come from a line of the file.
    """

    name: Name
    line: int


@dataclass(frozen=True, eq=False)
class Frame:
    """An immutable frame. Its arrays are read-only, and neighbouring frames may share them.

    Attributes:
        data: The text to which the blocks refer: the content of an OBJ file (UTF-16 is recoded to UTF-8), or the text
            that formats/reading.py made from a file in another format.
        blocks: The blocks, in the order of the file.
        positions: Positions of the vertices, (n, 3) float64, scene units; NaN if a number is bad or missing.
        uvs: The UVs, (m, 2 or 3) float64.
        normals: The normals, (k, 3) float64.
        corners: The faces, as indices into `positions`, `uvs` and `normals`.
        runs: The faces of each block, with the names that apply to them.
        libraries: The `mtllib` lines.
        problems: The problems of the file.
        encoding: The original encoding of a recoded file; None for any other file.
        source_decimals: Maximum number of decimal places in the file, by keyword.
        decimals: Number of decimal places for writing changed values, by keyword. The default is the number in
            `source_decimals`, or 6 if that number is 0 or missing.
        changed: Keywords whose values differ from `data`, so that the writer replaces their lines.
        format: Id of the file's format (formats/registry.py).
        library: The materials inside the file as MTL text; b"" if there are none.
        images: Names of the textures inside the file, as they appear in `library`.
        image_digest: Digest of the names and bytes of these textures; b"" if there are none.
        colours: Red, green and blue of each vertex, (n, 3) float64, 0 to 1; empty unless every vertex has exactly three
            numbers after x, y and z (common practice, no source).

    Example:
        >>> frame = read_frame("harbour/manta/manta.0001.obj")
        >>> frame.positions.shape, frame.faces
        ((600, 3), 598)
    """

    data: bytes
    blocks: tuple[Block, ...]
    positions: Floats
    uvs: Floats
    normals: Floats
    corners: Corners
    runs: tuple[FaceRun, ...]
    libraries: tuple[LibraryLine, ...]
    problems: tuple[Problem, ...] = ()
    encoding: str | None = None
    source_decimals: Mapping[bytes, int] = field(default_factory=dict)
    decimals: Mapping[bytes, int] = field(default_factory=dict)
    changed: frozenset[bytes] = frozenset()
    format: str = "obj"
    library: bytes = b""
    images: tuple[Name, ...] = ()
    image_digest: bytes = b""
    colours: Floats = field(default_factory=lambda: np.zeros((0, 3)))

    @property
    def faces(self) -> int:
        return len(self.corners.offsets) - 1

    @property
    def objects(self) -> tuple[Name, ...]:
        """Distinct names of objects, in the order of their first use by a face."""
        return tuple(dict.fromkeys(run.object for run in self.runs if run.object is not None))

    @property
    def materials(self) -> tuple[Name, ...]:
        """Distinct names of materials, in the order of their first use by a face."""
        return tuple(dict.fromkeys(run.material for run in self.runs if run.material is not None))

    @cached_property
    def box(self) -> Floats | None:
        """Bounding box of all finite positions: minimum and maximum, (2, 3) float64; None if there are none."""
        return _bounds(self.positions)

    def replace(
        self,
        *,
        positions: Floats | None = None,
        uvs: Floats | None = None,
        normals: Floats | None = None,
        corners: Corners | None = None,
        libraries: tuple[LibraryLine, ...] | None = None,
        decimals: Mapping[bytes, int] | None = None,
    ) -> Frame:
        """Return a copy of the frame with new values. The given arrays become read-only.

        Args:
            positions: New positions, (n, 3) float64. For each argument, None keeps the values of the frame.
            uvs: New UVs, (m, 2 or 3) float64.
            normals: New normals, (k, 3) float64.
            corners: New faces.
            libraries: New `mtllib` lines, which replace all old lines; () for none.
            decimals: Number of decimal places for writing changed values, by keyword. A keyword without an entry keeps
                its number.
        """
        given = {b"v": positions, b"vt": uvs, b"vn": normals, b"f": corners, b"mtllib": libraries}
        for array in (positions, uvs, normals):
            if array is not None:
                array.flags.writeable = False
        return replace(
            self,
            positions=self.positions if positions is None else positions,
            uvs=self.uvs if uvs is None else uvs,
            normals=self.normals if normals is None else normals,
            corners=self.corners if corners is None else corners,
            libraries=self.libraries if libraries is None else libraries,
            decimals={**self.decimals, **(decimals or {})},
            changed=self.changed | {keyword for keyword, value in given.items() if value is not None},
        )


def _bounds(positions: Floats) -> Floats | None:
    if not len(positions):
        return None
    found = _native.core.measure_box(positions) if _native.active else None
    if found is not None:
        return np.array(found).reshape(2, 3)
    # Column by column: NumPy reduces a strided column 20 times as fast as the short rows of a whole (n, 3) array.
    columns = positions.T
    box = np.array([[column.min() for column in columns], [column.max() for column in columns]])
    return box if np.isfinite(box).all() else _bounds(positions[np.isfinite(positions).all(axis=1)])
