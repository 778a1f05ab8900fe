"""The demo's meshes and materials as text: Wavefront OBJ (version 3.0) and its material library."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats
from inspector.demo.mesh import ABSENT, Mesh

DECIMALS = 6
"""Decimal places: a micrometre, far coarser than what float64 differs by from one machine to the next."""


def obj_text(mesh: Mesh) -> bytes:
    """The mesh as an OBJ file; newlines are Unix's."""
    head = [
        f"# {mesh.title}",
        "# metres, Y up, right-handed",
        f"mtllib {mesh.library}",
        f"o {mesh.object}",
    ]
    state = [f"g {mesh.group}", f"usemtl {mesh.material}", "s 1"]
    lines = [
        *head,
        *_number_lines("v", mesh.positions),
        *_number_lines("vt", mesh.uvs),
        *_number_lines("vn", mesh.normals),
        *state,
        *_face_lines(mesh),
    ]
    return ("\n".join(lines) + "\n").encode("ascii")


def library_text(material: str, colour: str, maps: list[str]) -> bytes:
    """A library of one material; `maps` are its map lines as they shall stand in the file."""
    lines = ["# metres, Y up", f"newmtl {material}", f"Kd {colour}", "Ks 0.100 0.100 0.100", "Ns 40", "illum 2"]
    return ("\n".join([*lines, *maps]) + "\n").encode("ascii")


def _number_lines(keyword: str, values: Floats) -> list[str]:
    rounded = np.round(values, DECIMALS) + 0.0  # adding 0.0 makes -0.0 a plain 0.0
    pattern = keyword + f" %.{DECIMALS}f" * values.shape[1]
    return [pattern % tuple(row) for row in rounded.tolist()]


def _face_lines(mesh: Mesh) -> list[str]:
    lines = []
    for face in np.stack([mesh.v, mesh.vt, mesh.vn], axis=-1).tolist():
        corners = (f"{v + 1}/{'' if vt == ABSENT else vt + 1}/{vn + 1}" for v, vt, vn in face)
        lines.append("f " + " ".join(corners))
    return lines
