"""Convert a mesh to the frame that would be read from its OBJ text, for measuring only.

The text is never in memory as a whole, and only the first lines of each block are kept. Apart from this, the frame is
the same as if the whole text had been read. If the text may be irregular, no frame is made.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from inspector import _native
from inspector.arrays import Floats, SmallIndices
from inspector.formats.frame import ABSENT, FORM_BYTES, Block, Corners, Frame
from inspector.formats.mesh import Mesh, Numbers
from inspector.formats.wavefront.assemble import read_only, shared
from inspector.formats.wavefront.blocks import split_blocks
from inspector.formats.wavefront.compose import face_lines, library_line, number_lines, part_lines
from inspector.formats.wavefront.face_table import FaceTable
from inspector.formats.wavefront.indices_plain import MANY_CORNERS
from inspector.formats.wavefront.logical_text import source_text
from inspector.formats.wavefront.numbers import read_numbers
from inspector.formats.wavefront.reader import states_of
from inspector.formats.wavefront.statements import FACE_STATEMENTS, NUMBER_STATEMENTS
from inspector.names import Name

_FORM_FACES = FORM_BYTES // len(b"f 1 2 3\n") + 1
"""Number of faces whose lines fill at least FORM_BYTES."""


class _Irregular(Exception):
    """The text may be irregular, so the whole text must be read."""


@dataclass(frozen=True, slots=True, eq=False)
class _List:
    """The positions, UVs or normals of a mesh, written as lines and read back.

    Attributes:
        source: The numbers of the mesh, (n, c).
        values: The numbers as read from the lines, (n, c) float64, read-only.
        decimals: Maximum number of decimal places of any number.
        head: The first lines, with FORM_BYTES bytes or more in total if there are enough lines.
    """

    source: Numbers
    values: Floats
    decimals: int
    head: bytes


@dataclass(frozen=True, slots=True, eq=False)
class Excerpt:
    """A frame for measuring.

    Attributes:
        frame: The frame. It can't be written, because its data contains only the first lines of each block.
        lists: The numbers of the frame, by keyword, for reuse if the next frame has equal numbers.
    """

    frame: Frame
    lists: Mapping[bytes, _List]


def excerpt(mesh: Mesh, library: Name, last: Frame | None, before: Excerpt | None) -> Excerpt | None:
    """Make the excerpt of a mesh: a frame that can be measured, but not written.

    Args:
        mesh: The mesh. The frame may share the mesh's arrays, which become read-only.
        library: Name for an `mtllib` line, if the mesh has materials.
        last: The previous frame; None if there is none.
        before: The excerpt of the previous frame; None if there is none.

    Returns:
        The excerpt; None if the text of the mesh may be irregular.
    """
    numbers = {b"v": mesh.positions, b"vt": mesh.uvs, b"vn": mesh.normals}
    arrays = {b"v": last.positions, b"vt": last.uvs, b"vn": last.normals} if last is not None else {}
    known = before.lists if before is not None else {}
    try:
        corners = _corners(mesh, last.corners if last is not None else None)
        lists = {
            keyword: _read(keyword, source, arrays.get(keyword), known.get(keyword))
            for keyword, source in numbers.items()
        }
    except _Irregular:
        return None
    faces: list[int] = []
    source = source_text(b"".join(_text(mesh, library, lists, faces)))
    blocks, _ = split_blocks(source.text)
    runs, libraries = states_of(source.text, blocks, _face_tables(blocks, faces, corners))
    frame = Frame(
        data=source.data,
        blocks=tuple(blocks),
        positions=lists[b"v"].values,
        uvs=lists[b"vt"].values,
        normals=lists[b"vn"].values,
        corners=corners,
        runs=runs,
        libraries=libraries,
        problems=source.problems,
        source_decimals={keyword: one.decimals for keyword, one in lists.items()},
    )
    return Excerpt(frame, lists)


def _corners(mesh: Mesh, before: Corners | None) -> Corners:
    """Return the corners of the mesh. Arrays that equal those of the previous frame, `before`, are shared.

    Raises:
        _Irregular: The mesh has no vertices, or has colours or illegal indices; a face has too few or too many corners;
            or only some corners have UVs or normals.
    """
    corners, sizes = mesh.corners, mesh.corners.sizes
    counts = (len(mesh.positions), len(mesh.uvs), len(mesh.normals))
    regular = counts[0] > 0 and not len(mesh.colours)
    if len(sizes):
        regular &= int(sizes.min()) >= 3 and int(sizes.max()) <= MANY_CORNERS.value
        slots = (corners.v, corners.vt, corners.vn)
        regular &= all(
            _regular(slot, count, number > 0) for number, (slot, count) in enumerate(zip(slots, counts, strict=True))
        )
    if not regular:
        raise _Irregular
    offsets = read_only(np.ascontiguousarray(corners.offsets, np.int64))
    v, vt, vn = (read_only(np.ascontiguousarray(slot, np.int32)) for slot in (corners.v, corners.vt, corners.vn))
    if before is None:
        return Corners(offsets, v, vt, vn)
    return Corners(shared(offsets, before.offsets), shared(v, before.v), shared(vt, before.vt), shared(vn, before.vn))


def _regular(slot: SmallIndices, count: int, optional: bool) -> bool:
    low, high = int(slot.min()), int(slot.max())
    return (low >= 0 and high < count) or (optional and low == high == ABSENT)


def _read(keyword: bytes, source: Numbers, last: Floats | None, before: _List | None) -> _List:
    """Write the numbers of a list, (n, c), and read them back. Arrays that equal those of the previous frame are
    shared.

    Raises:
        _Irregular: A problem is found when the lines are read back, or they contain a different number of values.
    """
    source = np.ascontiguousarray(source)
    if before is not None and shared(source, before.source) is before.source:
        return before
    values: Floats = source.astype(np.float64, copy=False)
    row, decimals, head = 0, 0, b""
    for lines in filter(None, number_lines(keyword, source)):
        table = read_numbers(lines, keyword, *NUMBER_STATEMENTS[keyword])
        stop = row + len(table.values)
        if table.problems or table.values.shape != source[row:stop].shape:
            raise _Irregular
        if not _native.is_same(table.values, values[row:stop]):
            values = values.copy() if values is source else values
            values[row:stop] = table.values
        row, decimals, head = stop, max(decimals, table.decimals), head or _head(lines)
    return _List(source, shared(read_only(values), last), decimals, head)


def _head(lines: bytes) -> bytes:
    """Return the first lines of a text, with FORM_BYTES bytes or more in total if there are enough lines."""
    return lines[: lines.find(b"\n", FORM_BYTES) + 1 or len(lines)]


def _text(mesh: Mesh, library: Name, lists: Mapping[bytes, _List], faces: list[int]) -> Iterator[bytes]:
    """Yield the text with only the first lines of each block. Append the total number of faces in each block to
    `faces`.
    """
    yield library_line(mesh, library)
    for one in lists.values():
        yield one.head
    new = True
    for names, start, stop in part_lines(mesh.parts):
        yield names
        new |= bool(names)
        if start < stop and new:
            yield face_lines(mesh.corners, start, min(stop, start + _FORM_FACES))
            faces.append(0)
            new = False
        if start < stop:
            faces[-1] += stop - start


def _face_tables(blocks: Sequence[Block], faces: Sequence[int], corners: Corners) -> list[FaceTable | None]:
    """Make the table of each block; None for blocks without faces."""
    left, start = iter(faces), 0
    tables: list[FaceTable | None] = []
    for block in blocks:
        if block.keyword in FACE_STATEMENTS:
            stop = start + next(left)
            tables.append(FaceTable(corners.offsets[start : stop + 1], corners.v, corners.vt, corners.vn))
            start = stop
        else:
            tables.append(None)
    return tables
