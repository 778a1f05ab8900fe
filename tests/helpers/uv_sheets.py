"""A sequence with a drifting sheet of 16 by 9 units, and the orientation of lettering on the sheet."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt

from inspector.formats.wavefront.reader import read_frame
from inspector.lettering.texture_fit import RegionFit, fit_texture
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import Files, move
from tests.helpers.shapes import scanned, sheet_mesh, wall

SHEET = sheet_mesh(wall(16, 9), 4, 4).edit(head=("mtllib manta.mtl",), state=("usemtl skin",))


def sheets(mesh: Mesh, count: int = 3) -> Files:
    return move(lambda number: (0.1 * number, 0, 0), range(1, count + 1), lambda _: mesh)


def uvs_of(data: bytes) -> npt.NDArray[np.float64]:
    return read_frame(data).uvs


def fit_of(folder: Path) -> RegionFit:
    (region,) = fit_texture(scanned(folder)).materials
    return region


def lettering(folder: Path) -> str:
    return fit_of(folder).reading.words


def second_sheet(mesh: Mesh, material: str, way: list[float]) -> bytes:
    """Return the text of a mesh, followed by the text of a displaced copy with a different material and the same
    UVs."""
    v, vt = len(mesh.positions), len(mesh.uvs)
    again = mesh.edit(
        positions=np.add(mesh.positions, way),
        faces=[tuple((a + v, b + vt, -1) for a, b, _ in face) for face in mesh.faces],
        state=(f"usemtl {material}",),
    )
    return mesh.text() + again.text()
