"""Write the demo's meshes and materials as text: Wavefront OBJ (version 3.0) and its material library."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats
from inspector.demo.quad_mesh import ABSENT, QuadMesh

DECIMALS = 6
"""Number of decimal places of a coordinate in metres. The last place is a micrometre. Float64 results on different
machines differ by much less than a micrometre."""


def obj_text(mesh: QuadMesh) -> bytes:
    """Write a mesh as an OBJ file, with Unix line endings."""
    head = [
        f"# {mesh.title}",
        "# metres, Y up, right-handed",
        f"mtllib {mesh.library}",
        f"o {mesh.object}",
    ]
    lines = [
        *head,
        *_number_lines("v", mesh.positions),
        *_number_lines("vt", mesh.uvs),
        *_number_lines("vn", mesh.normals),
        *_face_lines(mesh),
    ]
    return ("\n".join(lines) + "\n").encode("ascii")


def library_text(*materials: tuple[str, str, list[str]]) -> bytes:
    """Write a library of materials.

    Args:
        materials: Name, colour, and map statements of each material. The statements are written unchanged.
    """
    lines = ["# metres, Y up"]
    for material, colour, maps in materials:
        lines += [f"newmtl {material}", f"Kd {colour}", "Ks 0.100 0.100 0.100", "Ns 40", "illum 2", *maps]
    return ("\n".join(lines) + "\n").encode("ascii")


def _number_lines(keyword: str, values: Floats) -> list[str]:
    rounded = np.round(values, DECIMALS) + 0.0  # adding 0.0 makes -0.0 a plain 0.0
    pattern = keyword + f" %.{DECIMALS}f" * values.shape[1]
    return [pattern % tuple(row) for row in rounded.tolist()]


def _face_lines(mesh: QuadMesh) -> list[str]:
    states = {first: [f"g {group}", f"usemtl {material}"] for first, group, material in mesh.others}
    lines = [f"g {mesh.group}", f"usemtl {mesh.material}", "s 1"]
    for number, face in enumerate(np.stack([mesh.v, mesh.vt, mesh.vn], axis=-1).tolist()):
        lines += states.get(number, [])
        corners = (f"{v + 1}/{'' if vt == ABSENT else vt + 1}/{vn + 1}" for v, vt, vn in face)
        lines.append("f " + " ".join(corners))
    return lines
