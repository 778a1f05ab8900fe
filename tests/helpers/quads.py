"""Frames of separate squares with known sizes, UVs and normals, as text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tests.helpers.sequences import Files

UNIT = ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9))


def column(at: int, of: int) -> list[tuple[float, float]]:
    """Return the UVs of a square in column `at` of `of` columns. Squares in different columns don't overlap."""
    return [((at + u) / of, v) for u, v in UNIT]


@dataclass(frozen=True)
class Quad:
    """A square in a row of squares, facing +z. Each of `normals` is the z coordinate of a corner's normal, 1 or -1."""

    side: float = 1.0
    uvs: Sequence[tuple[float, float]] = UNIT
    normals: Sequence[float] = (1.0, 1.0, 1.0, 1.0)


def quad_frame(quads: Sequence[Quad], height: float) -> bytes:
    """Return a frame of squares side by side, with gaps of one unit, in the plane z = `height`."""
    lines, faces, left = [], [], 0.0
    for number, quad in enumerate(quads):
        right = left + quad.side
        for x, y in ((left, 0.0), (right, 0.0), (right, quad.side), (left, quad.side)):
            lines.append(f"v {x:.6f} {y:.6f} {height:.6f}")
        lines += [f"vt {u:.6f} {v:.6f}" for u, v in quad.uvs]
        at = 4 * number
        corners = [f"{at + k + 1}/{at + k + 1}/{1 if quad.normals[k] > 0 else 2}" for k in range(4)]
        faces.append("f " + " ".join(corners))
        left = right + 1.0
    return ("\n".join([*lines, "vn 0 0 1", "vn 0 0 -1", *faces]) + "\n").encode()


def quad_frames(quads: Sequence[Quad]) -> Files:
    return {f"buoy.{number:04d}.obj": quad_frame(quads, 0.1 * number) for number in range(1, 5)}


POINT, LINE = ((0.0, 0.0),) * 4, ((0.0, 0.5), (1.0, 0.5), (0.6, 0.5), (0.2, 0.5))
WITHOUT_AREA = {"point": (POINT, POINT), "line": (LINE, LINE), "one material": (UNIT, POINT)}
"""UVs of two materials, by case. At least one material has no area in UV space."""


def flat_frames(uvs: str) -> Files:
    skin, fin = WITHOUT_AREA[uvs]
    files = quad_frames([Quad(uvs=skin), Quad(uvs=fin)])
    for name, data in files.items():
        first, second = (line for line in data.split(b"\n") if line.startswith(b"f "))
        named = data.replace(first, b"usemtl skin\n" + first)
        files[name] = named.replace(second, b"usemtl fin\n" + second)
    return files
