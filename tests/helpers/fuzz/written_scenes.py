"""Random well-formed sequences in many variants of OBJ, for comparisons of deliveries with their sources.

A sequence has at most one defect, which a fix can correct.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

Corner = tuple[int, int, int]

FAULTS = ("", "", "", "gap", "turned", "normals", "long", "mixed", "shifted", "doubled", "loose", "flat", "repeated")


@dataclass
class Style:
    end: str
    numbers: str
    relative: bool
    fo: bool
    colours: bool
    depth: bool
    comments: bool
    joined: bool
    normals: bool
    signs: bool


@dataclass
class Sheet:
    """The faces, which are the same in all frames. They form two objects with one material each."""

    rows: int
    columns: int
    faces: list[list[int]] = field(default_factory=list)


def scene(chance: random.Random) -> dict[str, bytes]:
    """Return the files of a sequence that starts at kelp.0001.obj, and the file of its library."""
    style = Style(
        end=chance.choice(["\n", "\n", "\r\n"]),
        numbers=chance.choice(["%.6f", "%.4f", "%.3e", "%.9g", "%.2f"]),
        **{name: chance.random() < 0.25 for name in ("relative", "fo", "colours", "depth", "comments", "joined")},
        normals=chance.random() < 0.7,
        signs=chance.random() < 0.1,
    )
    sheet = _sheet(chance)
    fault = chance.choice(FAULTS)
    size, place = chance.choice([0.02, 1.0, 1.0, 350.0]), chance.choice([0.0, 0.0, 25.0, -3000.0])
    count = chance.randint(2, 7)
    broken = chance.randint(1, count)
    files = {"kelp.mtl": b"newmtl skin\nKd 1 0.5 0.25\nnewmtl fin\nKd 0.1 0.2 0.3\n"}
    for number in range(1, count + 1):
        if fault == "gap" and number == broken != count:
            continue
        frame = _frame(chance, style, sheet, number, size, place, fault if number == broken or fault in ALL else "")
        files[f"kelp.{number:04d}.obj"] = frame
    if fault == "repeated":
        files["kelp.1.obj"] = files["kelp.0001.obj"]
    return files


ALL = ("doubled", "loose", "flat")


def _sheet(chance: random.Random) -> Sheet:
    sheet = Sheet(chance.randint(2, 4), chance.randint(2, 4))
    triangles = chance.choice([0.0, 0.3, 0.3, 1.0])
    for row in range(sheet.rows):
        for column in range(sheet.columns):
            first = row * (sheet.columns + 1) + column
            quad = [first, first + 1, first + sheet.columns + 2, first + sheet.columns + 1]
            if chance.random() < triangles:
                sheet.faces += [quad[:3], [quad[0], quad[2], quad[3]]]
            else:
                sheet.faces.append(quad)
    return sheet


def _frame(
    chance: random.Random, style: Style, sheet: Sheet, number: int, size: float, place: float, fault: str
) -> bytes:
    width, height = sheet.columns + 1, sheet.rows + 1
    lines = ["# kelp", "mtllib kelp.mtl"]
    grid = [(column / sheet.columns, row / sheet.rows) for row in range(height) for column in range(width)]
    numbers = _Numbers(style)
    for u, v in grid:
        z = 0.2 * math.sin(3.0 * u + 0.3 * number) + 0.05 * v
        words = [numbers(place + size * (u + 0.01 * number)), numbers(size * v), numbers(size * z)]
        if style.colours:
            words += ["0.5", "1", f"{chance.random():.3f}"]
        lines.append(" ".join(["v", *words]) + (" # bent" if style.comments and chance.random() < 0.1 else ""))
    if fault == "loose":
        lines.append(f"v {numbers(place)} {numbers(size)} {numbers(0.5 * size)}")
    lines += [f"vt {u:.4f} {v:.5g}" + (" 0" if style.depth else "") for u, v in grid]
    if style.normals:
        lines += _normals(grid, number, fault)
    lines += _faces(chance, style, sheet, fault, len(grid) + (fault == "loose"))
    if style.joined:
        at = chance.randrange(3, len(lines))
        if lines[at].startswith(("v ", "f ")) and "#" not in lines[at]:
            lines[at] = lines[at].replace(" ", f" \\{style.end}", 1)
    if fault == "mixed":
        lines[1] += "\r"
    return (style.end.join(lines) + style.end).encode()


class _Numbers:
    def __init__(self, style: Style) -> None:
        self._style = style

    def __call__(self, value: float) -> str:
        text = self._style.numbers % value
        return f"+{text}" if self._style.signs and not text.startswith("-") else text


def _normals(grid: list[tuple[float, float]], number: int, fault: str) -> list[str]:
    lines = []
    for u, _ in grid:
        slope = -0.6 * math.cos(3.0 * u + 0.3 * number)
        length = math.sqrt(slope * slope + 0.05 * 0.05 + 1.0)
        factor = {"normals": -1.0, "long": 3.0}.get(fault, 1.0) / length
        lines.append(f"vn {slope * factor:.5f} {-0.05 * factor:.5f} {factor:.5f}")
    return lines


def _faces(chance: random.Random, style: Style, sheet: Sheet, fault: str, vertices: int) -> list[str]:
    faces = [list(face) for face in sheet.faces]
    if fault == "doubled":
        faces.append(list(faces[0]))
    if fault == "flat":
        faces.append([faces[0][0], faces[0][1], faces[0][0]])
    uvs = (sheet.rows + 1) * (sheet.columns + 1)
    lines = ["o body", "g body", "usemtl skin", "s 1"]
    for at, face in enumerate(faces):
        if at == len(sheet.faces) // 2:
            lines += ["# fin", "o fin", "g fin left", "usemtl fin", "s off"]
        corners = face[::-1] if fault == "turned" else face
        words = []
        for vertex in corners:
            uv = (vertex + 1) % uvs if fault == "shifted" else vertex
            v, vt, vn = vertex + 1, uv + 1, vertex + 1
            if style.relative:
                v, vt, vn = v - vertices - 1, vt - uvs - 1, vn - uvs - 1
            words.append(f"{v}/{vt}/{vn}" if style.normals else f"{v}/{vt}")
        lines.append(" ".join(["fo" if style.fo else "f", *words]))
    if style.comments:
        lines[chance.randrange(4, len(lines))] += "  # here"
    return lines
