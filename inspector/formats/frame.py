"""One frame of a sequence: its bytes, the blocks that they form, and the arrays that the blocks hold."""

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
"""The index of a corner for which the file has no index, or an illegal index. A Problem reports the latter."""


FORM_BYTES = 1 << 12
"""Number of bytes at the start of each list of vertices, UVs, normals or faces that are examined to find the form in
which the list is written. These bytes hold about a hundred lines, and are searched in a tenth of a millisecond.
"""


@dataclass(frozen=True, slots=True)
class Block:
    """A run of consecutive lines with the same keyword.

    Attributes:
        keyword: The keyword; b"" for blank lines, b"#" for comments.
        start: First byte in the frame's data.
        stop: The byte after the last byte of the run.
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
    """The faces as a compressed row list: face i has the corners `offsets[i]:offsets[i + 1]`. All arrays are read-only.

    Attributes:
        offsets: (f + 1,) int64.
        v: Vertex of each corner, (c,) int32, counted from 0.
        vt: UV of each corner, (c,) int32, counted from 0; ABSENT where a corner has none.
        vn: Normal of each corner, (c,) int32, counted from 0; ABSENT where a corner has none.
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
        """Index of the face to which each corner belongs, (c,) int64."""
        return np.repeat(np.arange(len(self.offsets) - 1), self.sizes)

    def packed(self) -> tuple[Indices, SmallIndices]:
        """Return `offsets` and `v` as contiguous arrays, which the native core requires."""
        return np.ascontiguousarray(self.offsets), np.ascontiguousarray(self.v, np.int32)

    def faces_with(self, flags: npt.NDArray[np.bool_]) -> npt.NDArray[np.intp]:
        """Find the faces with at least one flagged corner.

        Args:
            flags: A flag for each corner, (c,).

        Returns:
            Indices of the faces, in ascending order.
        """
        # Counts before and after each face; numpy.unique of the corners' faces takes twenty times as long.
        before = np.concatenate([np.zeros(1, np.int64), np.cumsum(flags)])[self.offsets]
        return np.flatnonzero(before[1:] != before[:-1])

    def picked(self, faces: npt.NDArray[np.int64]) -> Corners:
        """Pick some of the faces.

        Args:
            faces: Indices of the faces to keep, in the order of the result, (k,).
        """
        sizes = self.sizes[faces]
        offsets = np.concatenate([np.zeros(1, np.int64), np.cumsum(sizes)])
        at = np.repeat(self.offsets[:-1][faces] - offsets[:-1], sizes) + np.arange(int(offsets[-1]))
        return Corners(offsets, self.v[at], self.vt[at], self.vn[at])


@dataclass(frozen=True, slots=True)
class FaceRun:
    """The faces of one block, and the state that applies to them. A name is None if it was never set.

    Attributes:
        start: Index of the first face, from 0.
        stop: Index of the last face, plus 1.
        block: Index of the block in `Frame.blocks`.
        material: From `usemtl`.
        group: From `g`.
        object: From `o`.
        smoothing: From `s`, as written.
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
        name: The rest of the line as written; it may name more than one file.
        line: Line number, from 1; 0 if the name is not from a line of the file.
    """

    name: Name
    line: int


@dataclass(frozen=True, eq=False)
class Frame:
    """An immutable frame. Arrays are read-only and may be shared with neighbouring frames.

    Attributes:
        data: The text to which the blocks point: the bytes as read, except that UTF-16 is recoded to UTF-8. If `format`
            is not "obj", formats/reading.py made the text from the file, and lines of the text are not lines of the
            file.
        blocks: The blocks, in the order of the file.
        positions: (n, 3) float64, scene units, NaN where a number in the file is bad or missing.
        uvs: (m, 2 or 3) float64.
        normals: (k, 3) float64.
        corners: The faces, as indices into these three arrays.
        runs: The faces of each block, with their material, group, object and smoothing group.
        libraries: The lines that name material libraries.
        problems: The problems that the reader noticed.
        encoding: The original encoding of a recoded file; None for all others.
        source_decimals: Maximum number of decimal places of any number in the file, by keyword.
        decimals: Decimal places with which changed values are written, by keyword. A keyword without an entry has those
            of the file.
        changed: Keywords whose values differ from `data`. The writer replaces the lines of these keywords only.
        format: Id of the file's format (formats/registry.py).
        library: The file's own materials as MTL; b"" in formats that have none.
        images: Names of the textures inside the file, as in `library`.
        image_digest: Digest of the names and bytes of these textures; b"" if there are none.
        colours: (n, 3) float64, red, green and blue, 0 to 1, if every vertex has three numbers after x, y and z (common
            practice, no source); otherwise (0, 3).

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
        """The number of faces."""
        return len(self.corners.offsets) - 1

    @property
    def objects(self) -> tuple[Name, ...]:
        """Distinct object names in order of first use by a face."""
        return tuple(dict.fromkeys(run.object for run in self.runs if run.object is not None))

    @property
    def materials(self) -> tuple[Name, ...]:
        """Distinct material names in order of first use by a face."""
        return tuple(dict.fromkeys(run.material for run in self.runs if run.material is not None))

    @cached_property
    def box(self) -> Floats | None:
        """Axis-aligned box of all finite positions, (2, 3) float64: minimum, maximum. None if no position is finite."""
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
        """Make a new frame with other values. Every value that is given, except decimals, counts as changed.

        The lines of changed values are written again. Arrays that are given become read-only.

        Args:
            positions: (n, 3) float64; None to keep the frame's own, as for all other arguments.
            uvs: (m, 2 or 3) float64.
            normals: (k, 3) float64.
            corners: The faces.
            libraries: The new `mtllib` lines, which are written where the first of the old lines was; () for none.
            decimals: Decimal places to write, by keyword; other keywords keep theirs.
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
    # Column by column: numpy reduces a strided column 20 times faster than the short rows of a whole (n, 3) array.
    columns = positions.T
    box = np.array([[column.min() for column in columns], [column.max() for column in columns]])
    return box if np.isfinite(box).all() else _bounds(positions[np.isfinite(positions).all(axis=1)])
