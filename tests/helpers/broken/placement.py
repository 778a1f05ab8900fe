"""Meshes and sequences that are far away, have the wrong up axis, or have an extra point."""

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
    """Turn points from y-up to z-up: +y becomes +z, and +z becomes -y."""
    return np.stack([points[:, 0], -points[:, 2], points[:, 1]], axis=-1)


def laid_down(mesh: Mesh) -> Mesh:
    return mesh.edit(
        positions=forth(mesh.positions), normals=forth(mesh.normals) if len(mesh.normals) else mesh.normals
    )


def frond(number: int) -> Mesh:
    mesh = wing(number)
    around = mesh.positions[:, 0] * 1.2
    height = (mesh.positions[:, 2] - 0.15 * number) * 8 / 3
    sway = 0.1 * np.sin(0.3 * number) * height
    return mesh.edit(positions=np.stack([0.5 * np.cos(around) + sway, height, 0.5 * np.sin(around)], axis=-1))
