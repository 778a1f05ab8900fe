"""STL, binary and ASCII. Source: 3D Systems, "StereoLithography Interface Specification", 1989; from memory.

trimesh is not used, because it silently drops an ASCII solid that has no `endsolid`.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from itertools import islice

import numpy as np

from inspector.formats.format import Beside, Content, Format, Trait
from inspector.formats.mesh import LeftOut, Mesh, Numbers, Part, corners_of, offsets_of
from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.numbers import read_numbers
from inspector.names import Name

_HEADER, _TRIANGLE = 84, 50
_ROW = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_SOLID = re.compile(rb"[ \t]*(end)?solid\b[ \t]*([^\r\n]*)", re.I)
_VERTEX = re.compile(rb"\bvertex[ \t]+([^\s]+)[ \t]+([^\s]+)[ \t]+([^\s]+)", re.I)
_NOT_FINITE = re.compile(rb"[+-]?(?:nan|inf(?:inity)?)", re.I)

_HEAD = 1 << 14
"""Number of bytes to inspect at the start of a file, to distinguish binary files from text."""
PIECE = 1 << 22
"""Number of bytes of text to read at a time, to save memory."""
_SPARE = 8
"""For every `_SPARE` vertices, the array of vertices gets one spare row, so that it need not grow for every piece."""
_KEYWORD = b"v"
"""The keyword that replaces `vertex`, whose first e could be taken for the start of an exponent."""
_FACET_ENDS = (b"endfacet\n", b"endfacet\r", b"ENDFACET\n", b"ENDFACET\r")
_FACET = 1 << 12
"""Number of bytes at the end of a piece that are searched for the end of a facet. They contain about ten facets."""
_LINES = 7
"""Number of lines per facet. All writers use this number (common practice, no source)."""


def _is_binary(head: bytes, size: int) -> bool:
    # A binary header may also begin with "solid", so only the size is reliable.
    count: int = struct.unpack_from("<I", head, 80)[0] if size >= _HEADER else 0
    return size >= _HEADER and size == _HEADER + _TRIANGLE * count


def _is_text(head: bytes) -> bool:
    words = head.lstrip().lower()
    return words.startswith(b"solid") and (b"facet" in words or b"endsolid" in words)


def _recognises(head: bytes, size: int) -> bool:
    return _is_binary(head, size) or _is_text(head)


def read(data: Content, _: Beside) -> Mesh:
    """Read the triangles of an STL file. Each triangle gets three vertices of its own.

    Args:
        data: Content of the file. Text is read piece by piece.
        _: Not needed, because the format doesn't refer to other files.

    Raises:
        UnreadableFrame: The file is not STL, or is damaged or incomplete.
    """
    losses: tuple[LeftOut, ...] = ()
    head = data[:_HEAD]
    if _is_binary(head, len(data)):
        rows = np.frombuffer(data[:], _ROW, offset=_HEADER)
        positions: Numbers = rows["corners"].reshape(-1, 3)
        solids = [(b"", len(rows))]
        if rows["attribute"].any():  # 0 in the document; a colour from some exporters (common practice, no source)
            losses = (LeftOut("triangle attributes, which some programs read as colours", seen=True),)
    elif _is_text(head):
        positions, solids = _Text(data).read()
    else:
        raise UnreadableFrame("too-short" if len(data) >= _HEADER else "foreign")
    faces = offsets_of(np.array([count for _, count in solids]))
    parts = (
        Part(int(start), int(stop), Name(name) if name else None)
        for (name, _), start, stop in zip(solids, faces, faces[1:], strict=False)
    )
    count = len(positions)
    corners = corners_of(np.arange(0, count + 1, 3), np.arange(count, dtype=np.int32))
    return Mesh(positions, corners, parts=tuple(parts), left_out=losses)


def _pieces(data: Content) -> Iterator[tuple[int, bytes]]:
    """Split the text into pieces of whole lines and, if possible, of whole facets. Yield their positions and bytes."""
    start, size = 0, PIECE
    while start < len(data):
        piece = data[start : start + size]
        stop = len(piece) if start + len(piece) == len(data) else _end_of_lines(piece)
        if stop:
            yield start, piece[:stop]
            start, size = start + stop, PIECE
        else:  # a line that is longer than the piece
            size *= 2


def _end_of_lines(piece: bytes) -> int:
    """Find the byte after the last whole facet. If no facet ends in the last `_FACET` bytes, find the byte after the
    last whole line instead; return 0 if there is no whole line.
    """
    last = len(piece) - 1  # a line feed may follow a carriage return at the end
    for end in (*_FACET_ENDS, b"\n", b"\r"):
        found = piece.rfind(end, max(last - _FACET, 0) if end in _FACET_ENDS else 0, last)
        if found >= 0:
            stop = found + len(end)
            return stop + piece.startswith(b"\n", stop)
    return 0


def _bounds(text: bytes) -> Iterator[re.Match[bytes]]:
    """Yield a match of `_SOLID` for each line that begins or ends a solid. A fast search for `olid` and `OLID` finds
    these lines.
    """
    places = sorted(at for word in (b"olid", b"OLID") for at in _places(text, word))
    for at in places:
        start = max(text.rfind(b"\n", 0, at), text.rfind(b"\r", 0, at)) + 1
        match = _SOLID.match(text, start)
        if match is not None and match.start(2) > at and not text[start:at].rstrip(b"sSdDnNeE").strip():
            yield match


def _places(text: bytes, word: bytes) -> Iterator[int]:
    at = text.find(word)
    while at >= 0:
        yield at
        at = text.find(word, at + 1)


class _Text:
    """Reads the text form piece by piece. Only the vertices, (n, 3), are kept in memory."""

    def __init__(self, data: Content) -> None:
        self._data = data
        self._rows = np.empty((0, 3))
        self._count = 0

    def read(self) -> tuple[Numbers, list[tuple[bytes, int]]]:
        """Read all vertices, (n, 3), and, for each solid, its name and its number of triangles.

        Raises:
            UnreadableFrame: A vertex doesn't have three numbers, a solid's number of vertices is not a multiple of 3,
                or the last solid has no end.
        """
        solids: list[tuple[bytes, int]] = []
        name: bytes | None = None
        before = 0
        for start, piece in _pieces(self._data):
            at = 0
            for match in (*_bounds(piece), None):
                if name is not None:
                    self._add(piece[at : match.start() if match else len(piece)], start + at)
                if match is None:
                    break
                if name is not None:
                    if (self._count - before) % 3:
                        raise UnreadableFrame(
                            "broken-form", reason="the number of vertices in a solid is not a multiple of 3"
                        )
                    solids.append((name, (self._count - before) // 3))
                name, before, at = None if match[1] else match[2].strip(), self._count, match.end()
        if name is not None:
            raise UnreadableFrame("too-short")
        self._rows.resize((self._count, 3), refcheck=False)
        return self._rows, solids

    def _add(self, piece: bytes, start: int) -> None:
        """Add the vertices of some lines, which begin at byte `start`.

        Raises:
            UnreadableFrame: A vertex doesn't have three numbers.
        """
        table = read_numbers(_vertex_lines(piece), _KEYWORD, 3, 3)
        for problem in table.problems:
            for place in problem.places:
                word = b"" if place.text is None else place.text.raw
                if not _NOT_FINITE.fullmatch(word):
                    line = self._line(piece, start, place.line)
                    raise UnreadableFrame("broken-form", line, "a vertex doesn't have three numbers")
        count = self._count + len(table.values)
        if count > len(self._rows):  # grown in place; np.concatenate would copy the array
            self._rows.resize((count + count // _SPARE, 3), refcheck=False)
        self._rows[self._count : count] = table.values
        self._count = count

    def _line(self, piece: bytes, start: int, vertex: int) -> int:
        """Return the line number, from 1, of a vertex in a piece that begins at byte `start` of the text."""
        found = next(islice(re.finditer(rb"\bvertex\b", piece, re.I), vertex, None), None)
        above = (text[: start - at] for at, text in _pieces(self._data) if at < start)
        return sum(map(_lines, above)) + _lines(piece[: found.start() if found else 0]) + 1


def _lines(text: bytes) -> int:
    return text.count(b"\n") + text.count(b"\r") - text.count(b"\r\n")


def _vertex_lines(piece: bytes) -> bytes:
    """Convert lines with vertices to `v` lines of OBJ."""
    lines = piece.replace(b"\r\n", b"\n").replace(b"\r", b"\n").strip().split(b"\n")
    if len(lines) % _LINES == 0 and piece.count(b"vertex") == 3 * (len(lines) // _LINES):
        rows = [b""] * (3 * (len(lines) // _LINES))
        for corner in range(3):
            rows[corner::3] = lines[2 + corner :: _LINES]
        return b"\n".join(rows).replace(b"vertex", _KEYWORD) + b"\n"
    return b"".join(b"%b %b %b %b\n" % (_KEYWORD, *match.groups()) for match in _VERTEX.finditer(piece))


def write(mesh: Mesh) -> bytes:
    """Write a mesh as a binary STL file, with face normals. All faces must be triangles."""
    triangles = np.asarray(mesh.positions, np.float64)[mesh.corners.v.reshape(-1, 3)]
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    rows = np.zeros(len(triangles), _ROW)
    rows["normal"] = np.divide(normals, lengths, out=np.zeros_like(normals), where=lengths > 0)
    rows["corners"] = triangles
    return bytes(80) + struct.pack("<I", len(triangles)) + rows.tobytes()


FORMATS = (Format("stl", "STL", (b".stl",), frozenset({Trait.GAPS}), _recognises, read, write),)
