"""Write a mesh of any format as OBJ text, and its materials as MTL text."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from io import BytesIO
from itertools import pairwise

import numpy as np

from inspector.arrays import Flags
from inspector.formats.frame import Corners
from inspector.formats.mesh import Map, Material, Mesh, Numbers, Part, Slot
from inspector.formats.wavefront.digits import format_faces, format_rows
from inspector.names import Name

EMPTY = b"# nothing is visible in this frame\n"
"""OBJ text for an empty mesh."""

# A name extends to the end of its line, where a backslash would join the next line to it.
_NOT_IN_NAMES = re.compile(rb"[\x00-\x1f\x7f]|\\+$")


def compose(mesh: Mesh, library: Name | None = None) -> bytes:
    """Write a mesh as OBJ text. Numbers get enough digits to be read back unchanged.

    Args:
        mesh: The mesh.
        library: Name for an `mtllib` line, if the mesh has materials; None for no `mtllib` line.
    """
    return Composer().text(mesh, library)


class Composer:
    """Writes the frames of an animation as OBJ text, one after the other. The text of shared arrays is reused."""

    def __init__(self) -> None:
        self._kept: dict[bytes, tuple[object, bytes]] = {}
        self._parts: tuple[Part, ...] = ()

    def text(self, mesh: Mesh, library: Name | None = None) -> bytes:
        """Write one frame as OBJ text; see `compose`.

        Args:
            mesh: The mesh.
            library: Name for an `mtllib` line, if the mesh has materials; None for no `mtllib` line.
        """
        text = BytesIO()  # joining all pieces would hold the text in memory twice
        if library is not None:
            text.write(library_line(mesh, library))
        rows = _coloured(mesh.positions, mesh.colours) if len(mesh.colours) else number_lines(b"v", mesh.positions)
        text.writelines(rows)
        text.write(self._same(b"vt", mesh.uvs, lambda: number_lines(b"vt", mesh.uvs)))
        text.write(self._same(b"vn", mesh.normals, lambda: number_lines(b"vn", mesh.normals)))
        if mesh.parts != self._parts:
            self._kept.pop(b"f", None)
            self._parts = mesh.parts
        text.write(self._same(b"f", mesh.corners, lambda: _all_faces(mesh)))
        return text.getvalue() or EMPTY

    def _same(self, keyword: bytes, source: object, make: Callable[[], Iterable[bytes]]) -> bytes:
        kept = self._kept.get(keyword)
        if kept is None or kept[0] is not source:
            kept = self._kept[keyword] = (source, b"".join(make()))
        return kept[1]


def _all_faces(mesh: Mesh) -> Iterator[bytes]:
    """Yield the lines of all faces, with the lines that set their objects and materials."""
    for names, first, last in part_lines(mesh.parts):
        yield names
        for start, stop in _pieces(first, last):
            yield face_lines(mesh.corners, start, stop)


def part_lines(parts: Iterable[Part]) -> Iterator[tuple[bytes, int, int]]:
    """Yield the lines to write before the faces of each part, and the range of these faces.

    Yields:
        The lines that set the object and the material of a part, if they differ from those of the previous part; the
        index of the part's first face; and the index of the face after the part's last face.
    """
    before = Part(0, 0)
    for part in parts:
        names = b""
        if part.object is not None and part.object != before.object:
            names += b"o " + plain_name(part.object) + b"\n"
        if part.material is not None and part.material != before.material:
            names += b"usemtl " + plain_name(part.material) + b"\n"
        yield names, part.start, part.stop
        before = part


def library_line(mesh: Mesh, library: Name) -> bytes:
    """Return the `mtllib` line of a mesh; b"" if the mesh has no materials."""
    return b"mtllib " + library.raw + b"\n" if mesh.materials else b""


_SLOTS: Mapping[Slot, bytes] = {
    Slot.COLOUR: b"map_Kd",
    Slot.OPACITY: b"map_d",
    Slot.ROUGHNESS: b"map_Pr",
    Slot.METALLIC: b"map_Pm",
    Slot.EMISSIVE: b"map_Ke",
    Slot.NORMAL: b"norm",
}
"""The MTL statement for each slot. The last four are later extensions (common practice, no source)."""
SLOTS: Mapping[bytes, Slot] = {statement.lower(): slot for slot, statement in _SLOTS.items()}
"""The slot for each map statement. The statements are in lower case."""


def compose_library(materials: Iterable[Material]) -> bytes:
    """Write materials as MTL text, with only the stated numbers. `Material.tr` is written as `Tr` if it is set;
    otherwise, an opacity below 1 is written as `d`.
    """
    lines = []
    for material in materials:
        lines.append(b"newmtl " + plain_name(material.name))
        if material.colour is not None:
            lines.append(b"Kd %.9g %.9g %.9g" % material.colour)
        if material.tr is not None:
            lines.append(b"Tr %.9g" % material.tr)
        elif material.opacity < 1.0:
            lines.append(b"d %.9g" % material.opacity)
        if material.roughness is not None:
            lines.append(b"Pr %.9g" % material.roughness)
        if material.metallic is not None:
            lines.append(b"Pm %.9g" % material.metallic)
        if material.emissive is not None:
            lines.append(b"Ke %.9g %.9g %.9g" % material.emissive)
        lines += [b" ".join([_SLOTS[one.slot], *_options(one), plain_name(one.image.name)]) for one in material.maps]
    return b"".join(line + b"\n" for line in lines)


def _options(one: Map) -> Iterator[bytes]:
    """Yield the options for the statement of a map (MTL File Formats 4.2, 1995)."""
    if one.clamp:
        yield b"-clamp on"
    if one.channel:
        yield b"-imfchan " + CHANNELS[one.channel]
    if one.strength != 1.0:
        yield b"-bm %.9g" % one.strength


CHANNELS: Mapping[str, bytes] = {"r": b"r", "g": b"g", "b": b"b", "a": b"m"}
"""The MTL letter for each channel of a texture; alpha is called "matte" in MTL."""


def plain_name(name: Name) -> bytes:
    """Change a name so that it can be written in a line of an OBJ or MTL file.

    White space at the ends is removed; control characters and trailing backslashes become underscores. If nothing is
    left, the name is `unnamed`.
    """
    return _NOT_IN_NAMES.sub(b"_", name.raw.strip()) or b"unnamed"


_SINGLE_DIGITS = 9
"""Number of significant digits that distinguish all float32 numbers (IEEE 754-2019, 5.12.2)."""
_LARGE = 1 << 10
"""Minimum number of rows for which writing whole arrays is faster than writing one number at a time."""
_MOST_DECIMALS = 14
"""Maximum number of decimal places for writing whole arrays. With more, numbers of 1 or above have too many digits."""
_TRIED = 1 << 9
"""Approximate number of rows to examine when the number of decimal places is chosen."""
TOGETHER = 1 << 15
"""Number of rows or faces to write in one batch, to limit the memory of temporary arrays."""


def _pieces(start: int, stop: int) -> Iterator[tuple[int, int]]:
    """Split a range into nearly equal consecutive ranges of at most `TOGETHER` elements."""
    count = (stop - start) // TOGETHER + 1
    bounds = [start + (stop - start) * number // count for number in range(count + 1)]
    return pairwise(bounds)


def number_lines(keyword: bytes, values: Numbers) -> Iterator[bytes]:
    """Yield lines of numbers, many at a time. The numbers get enough digits to be read back unchanged.

    Args:
        keyword: First word of each line.
        values: The numbers, (n, c).
    """
    decimals = None
    if len(values) >= _LARGE and np.isfinite(values).all():
        decimals = _decimals(values)
    for start, stop in _pieces(0, len(values)):
        piece = values[start:stop]
        yield _one_by_one(keyword, piece) if decimals is None else _fixed(keyword, piece, decimals)


def _decimals(values: Numbers) -> int:
    """Choose the number of decimal places for finite numbers.

    Returns:
        For float32, enough decimal places for the largest of `values` to be read back unchanged. For float64, the
        smallest number with which more than 15 of 16 rows are read back unchanged, or a number above `_MOST_DECIMALS`
        if no number up to `_MOST_DECIMALS` is enough.
    """
    if values.dtype.itemsize <= 4:
        whole = len(str(int(max(values.max(), -values.min()))))
        return max(_SINGLE_DIGITS + 1 - whole, 1)
    tried = values[:: max(len(values) // _TRIED, 1)]
    held = (_held(tried, decimals).all(axis=1).mean() > 15 / 16 for decimals in range(1, _MOST_DECIMALS + 1))
    return next((decimals for decimals, enough in enumerate(held, 1) if enough), _MOST_DECIMALS + 1)


def _held(values: Numbers, decimals: int) -> Flags:
    """Return whether each number is unchanged after it is written with `decimals` decimal places."""
    wide = values.astype(np.float64)
    with np.errstate(over="ignore", invalid="ignore"):  # a number above 1e294 overflows, which gives False
        return np.asarray((np.rint(wide * 10.0**decimals) / 10.0**decimals).astype(values.dtype) == values)


def _fixed(keyword: bytes, values: Numbers, decimals: int) -> bytes:
    """Write finite numbers so that they are read back unchanged.

    Rows are written with `decimals` decimal places. Rows that need more are written with 3, 6, 9, ... additional
    decimal places. If more than half of the rows need more, all rows get at least 3 additional decimal places. If there
    are fewer than `_LARGE` rows to write, or if more than `_MOST_DECIMALS` decimal places are needed, each number is
    written separately, with enough digits for this number.
    """
    if len(values) < _LARGE or decimals > _MOST_DECIMALS:
        return _one_by_one(keyword, values)
    odd = np.flatnonzero(~_held(values, decimals).all(axis=1))
    if len(odd) > len(values) // 2:
        return _fixed(keyword, values, decimals + 3)
    text = format_rows(keyword, values.astype(np.float64), decimals)
    if not len(odd):
        return text
    lines = text.split(b"\n")
    for row, line in zip(odd.tolist(), _fixed(keyword, values[odd], decimals + 3).split(b"\n"), strict=False):
        lines[row] = line
    return b"\n".join(lines)


def _coloured(positions: Numbers, colours: Numbers) -> Iterator[bytes]:
    """Yield the lines of vertices, with red, green and blue after each position (common practice, no source)."""
    for vertices, added in zip(number_lines(b"v", positions), number_lines(b"", colours), strict=True):
        lines = zip(vertices.split(b"\n"), added.split(b"\n"), strict=True)
        yield b"\n".join(vertex + colour for vertex, colour in lines)


def _one_by_one(keyword: bytes, values: Numbers) -> bytes:
    # repr gives the fewest digits that distinguish a float64 from its neighbours
    number = b"%.9g" if values.dtype.itemsize <= 4 else b"%a"
    line = b" ".join([keyword, *[number] * values.shape[1]]) + b"\n"
    text: bytes = line * len(values) % tuple(np.asarray(values, np.float64).ravel().tolist())
    return text


def face_lines(corners: Corners, start: int, stop: int) -> bytes:
    """Write the lines of consecutive faces.

    Args:
        corners: All faces.
        start: The first face to write.
        stop: The face after the last face to write.
    """
    first, last = corners.offsets[start], corners.offsets[stop]
    offsets = corners.offsets[start : stop + 1] - first
    return format_faces(offsets, corners.v[first:last], corners.vt[first:last], corners.vn[first:last])
