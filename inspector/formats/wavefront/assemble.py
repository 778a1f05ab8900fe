"""Join the tables of blocks into the arrays of a frame. Arrays that equal those of the previous frame are shared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from inspector import _native, limits
from inspector.arrays import Floats, Indices, SmallIndices
from inspector.formats.frame import ABSENT, Block, Corners
from inspector.formats.problems import Place, Problem, ProblemLog
from inspector.formats.wavefront.face_table import NOT_GIVEN, FaceTable, Slots
from inspector.formats.wavefront.numbers import NumberTable
from inspector.names import Name

Array = TypeVar("Array", bound=npt.NDArray[np.generic])

_WIDTHS = {b"v": (3, 3), b"vt": (2, 3), b"vn": (3, 3)}  # minimum and maximum number of columns in the arrays
_RANGE_KINDS = {0: "index-range", 1: "vt-index-range", 2: "vn-index-range"}


def gather_numbers(
    blocks: Sequence[Block],
    tables: Sequence[object],
    keyword: bytes,
    before: Floats | None,
    log: ProblemLog,
) -> tuple[Floats, int]:
    """Join all rows of one keyword, and report problems in the rows by their line numbers in the file.

    Args:
        blocks: The blocks of the file.
        tables: The table of each block; None for blocks without one.
        keyword: b"v", b"vt" or b"vn".
        before: The rows of the previous frame, returned if the new rows are equal; None without a previous frame.
        log: The log for the problems.

    Returns:
        The rows, (n, 3) float64 ((n, 2 or 3) for UVs), and the maximum number of decimal places of any number.
    """
    parts: list[Floats] = []
    decimals, row, partial = 0, 0, False
    found = [(b, t) for b, t in zip(blocks, tables, strict=True) if b.keyword == keyword and isinstance(t, NumberTable)]
    widths = {table.values.shape[1] for _, table in found}
    fewest, most = _WIDTHS[keyword]
    columns = max(min(max(widths, default=fewest), most), fewest)
    for block, table in found:
        log.merge(_as_uv_problems(table.problems, keyword), block.first_line, row)
        decimals, row = max(decimals, table.decimals), row + len(table.values)
        partial |= table.columns is not None
        parts.append(_fit(table, columns, keyword))
    if keyword == b"v" and (partial or len(widths) > 1) and max(widths) > 3:
        log.add("partial-extras", Place(found[0][0].first_line))
    rows = parts[0] if len(parts) == 1 else np.concatenate([np.empty((0, columns)), *parts])
    return shared(read_only(rows), before), decimals


def gather_colours(blocks: Sequence[Block], tables: Sequence[object], before: Floats | None) -> Floats:
    """Join the colours of all vertices.

    A `v` line of seven numbers is ambiguous: it may hold a weight and a colour, or a colour and an opacity.

    Args:
        blocks: The blocks of the file.
        tables: The table of each block; None for blocks without one.
        before: The colours of the previous frame, returned if the new colours are equal; None without a previous frame.

    Returns:
        Red, green and blue of each vertex, (n, 3) float64; empty unless every `v` line has six numbers and the last
        three are finite.
    """
    found = [t for b, t in zip(blocks, tables, strict=True) if b.keyword == b"v" and isinstance(t, NumberTable)]
    if not found or any(table.values.shape[1] != 6 or table.columns is not None for table in found):
        return np.empty((0, 3))
    rows = np.concatenate([table.values[:, 3:] for table in found])
    return shared(read_only(rows), before) if np.isfinite(rows).all() else np.empty((0, 3))


def _as_uv_problems(problems: tuple[Problem, ...], keyword: bytes) -> tuple[Problem, ...]:
    """Change the kind "bad-number" to "bad-uv", because a bad UV affects the texture, not the shape."""
    if keyword != b"vt":
        return problems
    return tuple(replace(one, kind="bad-uv") if one.kind == "bad-number" else one for one in problems)


def _fit(table: NumberTable, columns: int, keyword: bytes) -> Floats:
    values = table.values
    if keyword == b"vt" and (table.columns is not None or values.shape[1] < columns):
        # A UV has 1 to 3 numbers; missing numbers are 0 (format document, vt).
        padded = np.zeros((len(values), columns))
        padded[:, : values.shape[1]] = values
        if table.columns is not None:
            padded[np.arange(columns) >= table.columns[:, None]] = 0.0
        return padded
    return values if values.shape[1] == columns else np.ascontiguousarray(values[:, :columns])


@dataclass(frozen=True, slots=True, eq=False)
class GatheredFaces:
    """The faces of a frame.

    Attributes:
        depends_on: Everything that determines the corners and problems.
        corners: The faces.
        problems: The problems of the faces.
    """

    depends_on: tuple[object, ...]
    corners: Corners
    problems: tuple[Problem, ...]


def gather_corners(
    blocks: Sequence[Block],
    tables: Sequence[object],
    counts: tuple[int, int, int],
    before: GatheredFaces | None,
) -> GatheredFaces:
    """Join all faces of the frame, with indices from 0.

    Negative indices count back from their own line, not from the end of the file.

    Args:
        blocks: The blocks of the file.
        tables: The table of each block; None for blocks without one.
        counts: Numbers of vertices, UVs and normals in the whole file.
        before: The faces of the previous frame, returned if nothing differs; None without a previous frame.
    """
    parts = _face_parts(blocks, tables)
    depends_on = (counts, *((id(part.table), part.block.first_line, part.so_far) for part in parts))
    if before is not None and depends_on == before.depends_on:
        return before
    log = ProblemLog()
    slots: tuple[list[SmallIndices], ...] = ([], [], [])
    for part in parts:
        log.merge(part.table.problems, part.block.first_line, part.faces_before)
        for slot, raw in enumerate((part.table.v, part.table.vt, part.table.vn)):
            slots[slot].append(_resolve(raw, counts[slot], slot, part, log))
    v, vt, vn = (_joined(arrays) for arrays in slots)
    fresh = Corners(_offsets(parts), v, vt, vn)
    if before is not None:
        old = before.corners
        fresh = Corners(shared(fresh.offsets, old.offsets), shared(v, old.v), shared(vt, old.vt), shared(vn, old.vn))
    return GatheredFaces(depends_on, fresh, log.problems())


@dataclass(frozen=True, slots=True, eq=False)
class _FacePart:
    """One block of faces, and the numbers of elements before it in the file.

    Attributes:
        block: The block.
        table: The corners of the block, as written.
        faces_before: Number of faces before the block.
        so_far: Numbers of vertices, UVs and normals before the block.
    """

    block: Block
    table: FaceTable
    faces_before: int
    so_far: tuple[int, int, int]

    def report(self, log: ProblemLog, kind: str, wrong: npt.NDArray[np.bool_], raw: Slots) -> None:
        corners = np.flatnonzero(wrong)
        shown = corners[: limits.PLACES_KEPT]
        for order, corner in enumerate(shown):
            face = int(np.searchsorted(self.table.offsets, corner, side="right")) - 1
            # A block of faces has one face per line, so the index of a face in the block is also that of its line.
            place = Place(self.block.first_line + face, self.faces_before + face, Name(b"%d" % raw[corner]))
            log.add(kind, place, 1 if order < len(shown) - 1 else len(corners) - order)


def _face_parts(blocks: Sequence[Block], tables: Sequence[object]) -> list[_FacePart]:
    counts = {b"v": 0, b"vt": 0, b"vn": 0}
    faces = 0
    parts: list[_FacePart] = []
    for block, table in zip(blocks, tables, strict=True):
        if isinstance(table, NumberTable):
            counts[block.keyword] += len(table.values)
        elif isinstance(table, FaceTable):
            parts.append(_FacePart(block, table, faces, (counts[b"v"], counts[b"vt"], counts[b"vn"])))
            faces += len(table.offsets) - 1
    return parts


def _resolve(raw: Slots, count: int, slot: int, part: _FacePart, log: ProblemLog) -> SmallIndices:
    """Convert indices as written to indices from 0, and report illegal and relative indices. Missing and illegal
    indices become ABSENT.
    """
    if not len(raw):
        return np.empty(0, np.int32)
    low, high = int(raw.min()), int(raw.max())
    if low >= 1 and high <= count:
        return np.subtract(raw, 1, dtype=np.int32)
    if low == high == NOT_GIVEN:
        return np.full(len(raw), ABSENT, np.int32)
    given = raw != NOT_GIVEN
    negative = given & (raw < 0)
    index = np.where(negative, raw + part.so_far[slot], raw - 1)
    zero = given & (raw == 0)
    wrong = given & ~zero & ((index < 0) | (index >= count))
    if negative.any():
        part.report(log, "relative-index", negative, raw)
    if zero.any():
        part.report(log, "index-zero" if slot == 0 else _RANGE_KINDS[slot], zero, raw)
    if wrong.any():
        part.report(log, _RANGE_KINDS[slot], wrong, raw)
    return np.where(given & ~zero & ~wrong, index, ABSENT).astype(np.int32)


def _offsets(parts: list[_FacePart]) -> Indices:
    """Return the offsets of all faces, (f + 1,), without a copy if there is only one block."""
    if len(parts) == 1:
        return parts[0].table.offsets
    offsets: list[Indices] = [np.zeros(1, np.int64)]
    corners = 0
    for part in parts:
        offsets.append(part.table.offsets[1:] + corners)
        corners += len(part.table.v)
    return read_only(np.concatenate(offsets))


def _joined(parts: list[SmallIndices]) -> SmallIndices:
    return read_only(parts[0] if len(parts) == 1 else np.concatenate(parts or [np.empty(0, np.int32)]))


def read_only(array: Array) -> Array:
    """Make an array read-only, and return it."""
    array.flags.writeable = False
    return array


def shared(fresh: Array, before: Array | None) -> Array:
    """Return the array of the previous frame if it has the same shape, dtype and bytes; otherwise, return that of this
    frame.

    Args:
        fresh: The array of this frame.
        before: The array of the previous frame; None if there is none.
    """
    if before is None or fresh is before or fresh.shape != before.shape or fresh.dtype != before.dtype:
        return fresh
    return before if _native.is_same(fresh, before) else fresh
