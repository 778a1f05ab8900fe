"""Meshes and sequences with wrong UVs."""

from __future__ import annotations

import numpy as np

from tests.helpers.images import image_file, spots
from tests.helpers.meshes import Corner, Mesh, with_faces
from tests.helpers.sequences import Files, shot
from tests.helpers.surfaces import NUMBERS
from tests.helpers.uv_sheets import SHEET as WIDE
from tests.helpers.uv_sheets import sheets
from tests.helpers.uvs import laid


def uvs_renumbered(mesh: Mesh) -> Mesh:
    last = len(mesh.uvs) - 1
    return with_faces(mesh, lambda corner: (corner[0], last - corner[1], corner[2])).edit(uvs=mesh.uvs[::-1])


def shifted(mesh: Mesh) -> Mesh:
    """Shift the UV indices by 4, and add four UVs at the end of the list instead of at the start."""
    uvs = np.concatenate([mesh.uvs, [[0, 0], [1, 0], [1, 1], [0, 1]]])
    return with_faces(mesh, lambda corner: (corner[0], corner[1] + 4, corner[2])).edit(uvs=uvs)


FOURTH = b"vt 0.000000 0.333333"


def noise(number: int, size: float) -> np.ndarray:
    return np.random.default_rng(number).uniform(0.2, 1.0, (24, 2)) * size


def trembling(size: float) -> Files:
    return shot({n: laid(lambda uv, n=n: uv * 0.95 + noise(n, size), first=0) for n in NUMBERS})


SHEET = WIDE.edit(positions=WIDE.positions * [9 / 16, 1, 1])
UV_SQUARE = {"skin.png": image_file(spots(32, 32))}


def layout_turned(degrees: int) -> dict[str, bytes]:
    """Return the sheet with its UVs turned clockwise, which turns the texture on the surface counter-clockwise."""
    angle = np.radians(-degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return sheets(SHEET.edit(uvs=(SHEET.uvs - 0.5) @ turn.T + 0.5)) | UV_SQUARE


def slid(by: float) -> object:
    return lambda mesh: mesh.edit(uvs=mesh.uvs + [[by, 0]] * (np.arange(len(mesh.uvs)) > 11)[:, None])


def without_uvs(corner: Corner) -> Corner:
    return corner[0], -1, corner[2]


def bare(mesh: Mesh) -> Mesh:
    return with_faces(mesh, without_uvs).edit(uvs=np.empty((0, 2)))


def in_part(mesh: Mesh) -> Mesh:
    return with_faces(mesh, without_uvs, of=[3, 4])


def beyond(mesh: Mesh) -> Mesh:
    return with_faces(mesh, lambda corner: (corner[0], corner[1] + 90, corner[2]), of=[3])


def reassigned(mesh: Mesh) -> Mesh:
    last = len(mesh.uvs) - 1
    return with_faces(mesh, lambda corner: (corner[0], last - corner[1], corner[2]))


def slid_along(mesh: Mesh) -> Mesh:
    return mesh.edit(uvs=mesh.uvs + 0.01)
