"""OFF, the text form: the keyword [ST][C][N][4][n]OFF, counts, vertices and faces. Source: Geomview manual, "OFF
Files".

trimesh is not used, because it cuts all polygons into triangles.
"""

from __future__ import annotations

import re

import numpy as np

from inspector.formats.format import Beside, Content, Format, Trait
from inspector.formats.frame import ABSENT
from inspector.formats.mesh import (
    LeftOut,
    Mesh,
    Numbers,
    Offsets,
    Part,
    corners_of,
    legal,
    of_vertices,
    offsets_of,
    split_at_seams,
)
from inspector.formats.number_lines import read_lines
from inspector.formats.problems import UnreadableFrame
from inspector.names import Name

_KEYWORD = re.compile(
    rb"\A(?:[ \t]*(?:#[^\r\n]*)?(?:\r\n|\n|\r))*[ \t]*((?:ST)?C?N?4?n?)OFF(?:[ \t]+(BINARY))?(?=[\s#]|\Z)"
)
_COMMENT = re.compile(rb"#[^\r\n]*")
_MOST_DIGITS = 18
"""Maximum number of digits of a count. Any count with at most this many digits fits in an int64."""

_FACE_COLOURS = LeftOut("face colours", seen=True)
_OPACITY = LeftOut("the opacity of vertex colours", seen=True)

Rows = list[list[bytes]]


def _recognises(head: bytes, _: int) -> bool:
    return _KEYWORD.match(head) is not None


def read(content: Content, _: Beside) -> Mesh:
    """Read the mesh of an OFF file.

    Args:
        content: Content of the file.
        _: Not needed, because the format doesn't refer to other files.

    Raises:
        UnreadableFrame: The file is not OFF, or is damaged, binary or not three-dimensional.
    """
    data = content[:]
    keyword = _KEYWORD.match(data)
    if keyword is None:
        raise UnreadableFrame("foreign")
    if keyword[2] or b"4" in keyword[1] or b"n" in keyword[1]:
        raise UnreadableFrame("not-supported", reason="only text files with three-dimensional points are supported")
    plain = _plain_mesh(data, keyword)
    if plain is not None:
        return plain
    first = data.count(b"\n", 0, keyword.end()) + 1
    text = _COMMENT.sub(b"", data[keyword.end() :])
    lines = [(number, words) for number, line in enumerate(text.splitlines(), first) if (words := line.split())]
    return _Reader(keyword[1], lines).mesh()


def _plain_mesh(data: bytes, keyword: re.Match[bytes]) -> Mesh | None:
    """Read a file in the most common form of the format: one line for the counts, one per vertex, and one per face.

    None if the file has no vertices or no faces, or is in another form, for example with colours, comments, or faces
    with different numbers of corners.
    """
    prefix, start = keyword[1], data.find(b"\n", keyword.end()) + 1
    at = data.find(b"\n", start) + 1
    counts = data[start:at].split()
    if b"C" in prefix or len(counts) not in (2, 3) or data[keyword.end() : start].strip():
        return None
    if not all(count.isdigit() and len(count) <= _MOST_DIGITS for count in counts):
        return None
    vertices = read_lines(data, at, int(counts[0]))
    faces = None if vertices is None else read_lines(data, vertices[1], int(counts[1]))
    if vertices is None or faces is None or data[faces[1] :].strip():
        return None
    table, rows = vertices[0], faces[0]
    size = rows.shape[1] - 1
    v = rows[:, 1:].astype(np.int32)
    if table.shape[1] != _width(prefix) or (rows[:, 0] != size).any() or (v != rows[:, 1:]).any():
        return None
    return _mesh(prefix, table, 0, False, np.full(len(rows), size, np.int64), v.reshape(-1), ())


def _width(prefix: bytes) -> int:
    """Return the number of values per vertex, not counting its colour."""
    return 3 + 3 * (b"N" in prefix) + 2 * prefix.startswith(b"ST")


def _mesh(
    prefix: bytes,
    table: Numbers,
    colours: int,
    whole: bool,
    sizes: Offsets,
    indices: Offsets,
    left_out: tuple[LeftOut, ...],
) -> Mesh:
    """Make a mesh from the numbers of a file.

    Args:
        prefix: The letters before OFF.
        table: The numbers in the vertex rows, (n, k).
        colours: Number of colour values in each row.
        whole: Whether all colour values are written without a decimal point.
        sizes: Number of corners of each face, (f,).
        indices: Vertex index of each corner, as in the file, (c,).
        left_out: Other content that is left out.
    """
    has_normals, has_uvs = b"N" in prefix, prefix.startswith(b"ST")
    at = 6 if has_normals else 3
    shades = table[:, at : at + 3] if colours >= 3 else np.zeros((0, 3))
    if colours == 4 and (table[:, at + 3] != (255 if whole and table[:, at : at + 4].max() > 1 else 1)).any():
        left_out = (*left_out, _OPACITY)
    if whole and len(shades) and shades.max() > 1:  # the manual states 0 to 1; whole numbers mean 0 to 255
        shades = np.round(shades / 255.0, 6)
    v = legal(indices, len(table))
    return Mesh(
        np.ascontiguousarray(table[:, :3]),
        corners_of(offsets_of(sizes), v, v if has_uvs else None, v if has_normals else None),
        np.ascontiguousarray(table[:, -2:]) if has_uvs else np.zeros((0, 2)),
        np.ascontiguousarray(table[:, 3:6]) if has_normals else np.zeros((0, 3)),
        (Part(0, len(sizes)),),
        colours=np.ascontiguousarray(shades),
        left_out=left_out,
    )


class _Reader:
    """Reads words one after another, regardless of line breaks. Only the colour of a face ends at a line break."""

    def __init__(self, prefix: bytes, lines: list[tuple[int, list[bytes]]]) -> None:
        """Begin at the first word.

        Args:
            prefix: The letters before OFF.
            lines: Line number and words of each line that contains words.
        """
        self._prefix = prefix
        self._lines = lines
        self._line = self._word = 0

    def mesh(self) -> Mesh:
        """Read the counts, vertices and faces.

        Raises:
            UnreadableFrame: The file is damaged.
        """
        vertices, faces = self._counts()
        plain = self._line == 1 and self._word == 0 and len(self._lines) >= 1 + vertices + faces
        rows = [words for _, words in self._lines[1 : 1 + vertices]]
        width = _width(self._prefix)
        colours = len(rows[0]) - width if plain and rows and b"C" in self._prefix else 0
        if plain and all(len(row) == width + colours for row in rows):
            self._line += vertices
        else:
            colours = 4 if b"C" in self._prefix else 0  # according to the manual, each vertex has four numbers
            rows = [[self._next() for _ in range(width + colours)] for _ in range(vertices)]
        table = self._numbers(rows, width + colours)
        at = 6 if b"N" in self._prefix else 3
        whole = not any(b"." in word for row in rows for word in row[at : at + colours])
        sizes, indices, face_colours = self._faces(faces)
        left_out = (_FACE_COLOURS,) if face_colours else ()
        try:
            v = np.array(indices, np.int64)
        except OverflowError:
            raise UnreadableFrame("broken-form", reason="a vertex index of a face is too large") from None
        return _mesh(self._prefix, table, colours, whole, np.array(sizes, np.int64), v, left_out)

    def _counts(self) -> tuple[int, int]:
        """Read the numbers of vertices and faces, and skip the number of edges, if any.

        Raises:
            UnreadableFrame: A number is missing, negative, or not a whole number.
        """
        vertices, faces = self._whole(), self._whole()
        if min(vertices, faces) < 0:
            raise UnreadableFrame("too-short")
        if self._word:
            edges = self._lines[self._line][1][self._word :]
            if len(edges) == 1:
                self._line, self._word = self._line + 1, 0
            else:
                self._next()
        elif self._line < len(self._lines) and len(self._lines[self._line][1]) == 1:
            self._next()
        return vertices, faces

    def _faces(self, count: int) -> tuple[list[int], list[int], bool]:
        """Return the number of corners of each face, the vertex index of each corner, and whether any face has a
        colour.

        Raises:
            UnreadableFrame: There are too few faces, or a face is damaged.
        """
        sizes: list[int] = []
        indices: list[int] = []
        coloured = False
        for _ in range(count):
            size = self._whole()
            if size < 0:
                raise UnreadableFrame("broken-form", self._at(), "a face has a negative number of corners")
            words = self._lines[self._line][1] if self._line < len(self._lines) else []
            if self._word and self._word + size <= len(words):
                own = words[self._word : self._word + size]
                coloured |= len(words) > self._word + size
                self._line, self._word = self._line + 1, 0
            else:
                own = [self._next() for _ in range(size)]
                if self._word:  # the rest of the line is a colour
                    coloured = True
                    self._line, self._word = self._line + 1, 0
            sizes.append(size)
            try:
                indices += map(int, own)
            except ValueError:
                raise UnreadableFrame(
                    "broken-form", self._at(), "a vertex index of a face is not a whole number"
                ) from None
        return sizes, indices, coloured

    def _next(self) -> bytes:
        if self._line >= len(self._lines):
            raise UnreadableFrame("too-short")
        words = self._lines[self._line][1]
        word = words[self._word]
        self._word += 1
        if self._word == len(words):
            self._line, self._word = self._line + 1, 0
        return word

    def _whole(self) -> int:
        line = self._at()
        word = self._next()
        try:
            return int(word)
        except ValueError:
            reason = f"`{Name(word[:40]).display}` is not a whole number"
            raise UnreadableFrame("broken-form", line, reason) from None

    def _at(self) -> int:
        """Return the line number of the next word or, if no word is left, of the last word; 1 if there are no words."""
        return self._lines[min(self._line, len(self._lines) - 1)][0] if self._lines else 1

    def _numbers(self, rows: Rows, width: int) -> Numbers:
        try:
            return np.array(rows, np.float64).reshape(-1, width)
        except ValueError:
            raise UnreadableFrame("broken-form", reason="a value of a vertex is not a number") from None


def write(mesh: Mesh) -> bytes:
    """Write a mesh as text. Numbers get enough digits to be read back unchanged.

    A vertex with more than one UV becomes several vertices, of which all but the first are added at the end. UVs are
    written only if every corner has a UV. Normals are written only if every corner has a normal and all normals at each
    vertex are equal.
    """
    if len(mesh.uvs) and not (mesh.corners.vt == ABSENT).any():
        mesh = split_at_seams(mesh)
    corners, count = mesh.corners, len(mesh.positions)
    columns, prefix = [mesh.positions], ""
    normals = of_vertices(mesh.normals, corners.vn, corners.v, count)
    if normals is not None:
        columns, prefix = [*columns, normals], "N"
    if len(mesh.colours):
        columns, prefix = [*columns, mesh.colours, np.ones((count, 1))], "C" + prefix
    uvs = of_vertices(mesh.uvs, corners.vt, corners.v, count)
    if uvs is not None:
        columns, prefix = [*columns, uvs[:, :2]], "ST" + prefix
    table = np.column_stack([np.asarray(column, np.float64) for column in columns])
    vertices = " ".join(["%r"] * table.shape[1]) + "\n"
    faces = (
        " ".join(map(str, [stop - start, *corners.v[start:stop].tolist()])) + "\n"
        for start, stop in zip(corners.offsets.tolist(), corners.offsets[1:].tolist(), strict=False)
    )
    head = f"{prefix}OFF\n{len(table)} {len(corners.sizes)} 0\n"
    return (head + vertices * len(table) % tuple(table.ravel().tolist()) + "".join(faces)).encode("ascii")


FORMATS = (
    Format(
        "off",
        "OFF",
        (b".off",),
        frozenset(
            {
                *(Trait.UVS, Trait.NORMALS, Trait.POLYGONS, Trait.SHARED, Trait.COLOURS),
                *(Trait.LOOSE, Trait.CLOUDS, Trait.GAPS),
            }
        ),
        _recognises,
        read,
        write,
        leaves="vertices with several UVs are split",
    ),
)
