"""Meshes and sequences placed badly: far away, laid down, with a point too many."""

from __future__ import annotations

import numpy as np

from tests.helpers.meshes import Floats, Mesh, wing
from tests.helpers.sequences import MATERIALS, Files, frames
from tests.helpers.surfaces import NUMBERS


def with_point(mesh: Mesh) -> Mesh:
    return mesh.edit(positions=np.concatenate([mesh.positions, mesh.positions[:1]]))


def placed_at(x: float) -> Files:
    return MATERIALS | frames(
        {n: wing(n).edit(positions=wing(n).positions + np.array([x, 0, 0])) for n in NUMBERS}
    )  # fmt: skip


def forth(points: Floats) -> Floats:
    """y up to z up: x stays, y comes to lie along z, z along -y (a right-handed turn about x)."""
    return np.stack([points[:, 0], -points[:, 2], points[:, 1]], axis=-1)


def laid_down(mesh: Mesh) -> Mesh:
    return mesh.edit(
        positions=forth(mesh.positions), normals=forth(mesh.normals) if len(mesh.normals) else mesh.normals
    )


def frond(number: int) -> Mesh:
    """Kelp: the wing rolled up to a stalk along y, four high, that sways."""
    mesh = wing(number)
    around = mesh.positions[:, 0] * 1.2
    height = (mesh.positions[:, 2] - 0.15 * number) * 8 / 3
    sway = 0.1 * np.sin(0.3 * number) * height
    return mesh.edit(positions=np.stack([0.5 * np.cos(around) + sway, height, 0.5 * np.sin(around)], axis=-1))
