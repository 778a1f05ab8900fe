"""A reader that splits OBJ files into words. It is written in plain Python and shares no code with the tool. Numbers
stay text.

Source: the OBJ format document ("Appendix B1", version 3.0). Files that are not well-formed raise ValueError.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

Corner = tuple[int, int | None, int | None]
"""Indices of the vertex, the UV and the normal, from 0. The UV and the normal are None if they are absent."""


@dataclass(frozen=True)
class Face:
    """A face. `state` contains the words of the last `o`, `g`, `usemtl` and `s` statements before the face; "" for a
    missing statement."""

    corners: tuple[Corner, ...]
    state: tuple[str, str, str, str]


@dataclass
class Words:
    """The content of a file: the words after each `v`, `vt` and `vn`, and the faces. `rest` contains all other lines in
    order."""

    vertices: list[tuple[str, ...]] = field(default_factory=list)
    uvs: list[tuple[str, ...]] = field(default_factory=list)
    normals: list[tuple[str, ...]] = field(default_factory=list)
    faces: list[Face] = field(default_factory=list)
    rest: list[str] = field(default_factory=list)


def words_of(data: bytes) -> Words:
    found = Words()
    values = {"v": found.vertices, "vt": found.uvs, "vn": found.normals}
    state = {"o": "", "g": "", "usemtl": "", "s": ""}
    lines = re.split(r"\r\n|\n|\r", data.decode("latin-1"))
    if lines[-1] == "":
        lines.pop()
    while lines:
        line = lines.pop(0)
        while line.endswith("\\") and lines and not line.lstrip().startswith("#"):
            line = line[:-1] + " " + lines.pop(0)
        keyword, *words = line.split("#")[0].split() or [""]
        if keyword in values:
            values[keyword].append(tuple(words))
        elif keyword in ("f", "fo"):
            counts = (len(found.vertices), len(found.uvs), len(found.normals))
            found.faces.append(Face(tuple(_corner(word, counts) for word in words), tuple(state.values())))  # type: ignore[arg-type]
        else:
            if keyword in state:
                state[keyword] = " ".join(words)
            found.rest.append(line)
    for face in found.faces:
        for corner in face.corners:
            for index, rows in zip(corner, (found.vertices, found.uvs, found.normals), strict=True):
                if index is not None and not 0 <= index < len(rows):
                    raise ValueError(f"an index without a line: {corner}")
    return found


def _corner(word: str, counts: tuple[int, int, int]) -> Corner:
    slots = [*word.split("/"), "", ""][:3]
    v, vt, vn = (_index(slot, count) for slot, count in zip(slots, counts, strict=True))
    if v is None:
        raise ValueError(f"a corner without a vertex: {word}")
    return v, vt, vn


def _index(slot: str, count: int) -> int | None:
    if not slot:
        return None
    number = int(slot)
    return number - 1 if number > 0 else count + number
