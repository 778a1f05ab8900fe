r"""A slow, plain reader of OBJ that shares no code with the tool.

Source: the OBJ format document ("Appendix B1", version 3.0). Positions, UVs and normals are each numbered from
1, and negative numbers count back from the line of the face. Corners are v, v/vt, v//vn or v/vt/vn, and `\` joins
lines. A vt has 1 to 3 values, and missing values are 0.

For broken files, the document gives no rules, so the reader follows the tool. A malformed number is NaN, and an index
that is malformed or out of range is absent (-1). A comment may follow data, and `VT 0 1` in capitals is a `vt`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

Corner = tuple[int, int, int]

_BLANKS = re.compile(rb"[ \t\r]+")
_NUMBER = re.compile(rb"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?")
_INDEX = re.compile(rb"[+-]?[0-9]+")
_MOST = {b"v": 7, b"vt": 3, b"vn": 3}


@dataclass
class PlainFrame:
    """The content of a file as lists.

    Attributes:
        faces: The corners of each face, as indices that start at 0; -1 stands for an absent index.
        materials: The material of each face; None before the first usemtl.
    """

    positions: list[tuple[float, ...]] = field(default_factory=list)
    uvs: list[tuple[float, ...]] = field(default_factory=list)
    normals: list[tuple[float, ...]] = field(default_factory=list)
    faces: list[list[Corner]] = field(default_factory=list)
    materials: list[bytes | None] = field(default_factory=list)


def read_plainly(data: bytes) -> PlainFrame:
    """Read the mesh in `data`, which is ASCII or UTF-8."""
    lists: dict[bytes, list[list[float]]] = {b"v": [], b"vt": [], b"vn": []}
    raw_faces: list[tuple[list[bytes], tuple[int, int, int]]] = []
    frame = PlainFrame()
    material: bytes | None = None
    for logical in _logical_lines(data.removeprefix(b"\xef\xbb\xbf")):
        line = logical.strip(b" \t\r")
        words = _BLANKS.split(line)
        keyword = words[0].lower() if len(words) > 1 else words[0]
        if keyword in lists:
            lists[keyword].append(_numbers(line, _MOST[keyword]))
        elif keyword in (b"f", b"fo"):
            corners = _BLANKS.split(line.partition(b"#")[0].rstrip(b" \t\r"))[1:]
            raw_faces.append((corners, (len(lists[b"v"]), len(lists[b"vt"]), len(lists[b"vn"]))))
            frame.materials.append(material)
        elif keyword == b"usemtl":
            material = line[len(keyword) :].strip(b" \t\r")
    frame.positions = [tuple((row + [math.nan] * 3)[:3]) for row in lists[b"v"]]
    frame.normals = [tuple((row + [math.nan] * 3)[:3]) for row in lists[b"vn"]]
    width = max([2, *map(len, lists[b"vt"])])
    frame.uvs = [tuple((row + [0.0] * width)[:width]) for row in lists[b"vt"]]
    totals = (len(lists[b"v"]), len(lists[b"vt"]), len(lists[b"vn"]))
    frame.faces = [[_corner(corner, so_far, totals) for corner in corners] for corners, so_far in raw_faces]
    return frame


def _logical_lines(data: bytes) -> list[bytes]:
    physical = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    lines: list[bytes] = []
    joining = False
    for line in physical:
        goes_on = line.endswith(b"\\") and (joining or not line.lstrip(b" \t").startswith(b"#"))
        part = line[:-1] if goes_on else line
        if joining:
            lines[-1] += b" " + part
        else:
            lines.append(part)
        joining = goes_on
    if joining:  # no line follows
        lines[-1] += b" "
    return lines


def _numbers(line: bytes, most: int) -> list[float]:
    words = _BLANKS.split(_without_comment(line).rstrip(b" \t\r"))[1 : 1 + most]
    return [_number(word) for word in words]


def _without_comment(line: bytes) -> bytes:
    """Remove a comment, which begins with #. The # in `1.#IND` and similar words doesn't begin a comment: one C library
    writes such words for NaN and infinity."""
    for at in range(len(line)):
        if line[at : at + 1] == b"#":
            tail = line[at + 1 :]
            if line[:at].endswith(b"1.") and tail.startswith((b"IND", b"INF", b"QNAN", b"SNAN")):
                continue
            return line[:at]
    return line


def _number(word: bytes) -> float:
    if not _NUMBER.fullmatch(word):
        return math.nan
    value = float(word)
    return math.nan if math.isinf(value) else value


def _corner(word: bytes, so_far: tuple[int, int, int], totals: tuple[int, int, int]) -> Corner:
    slots = [*word.split(b"/"), b"", b""][:3]
    v, vt, vn = (_index(slot, before, total) for slot, before, total in zip(slots, so_far, totals, strict=True))
    return v, vt, vn


def _index(slot: bytes, so_far: int, total: int) -> int:
    if not _INDEX.fullmatch(slot):
        return -1
    number = int(slot)
    index = number - 1 if number > 0 else so_far + number if number < 0 else -1
    return index if 0 <= index < total else -1
