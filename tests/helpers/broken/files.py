"""Meshes with a wrong up axis, and sequences with wrong file names."""

from __future__ import annotations

import numpy as np

from tests.helpers.meshes import Mesh
from tests.helpers.sequences import Files


def laid_down(mesh: Mesh) -> Mesh:
    x, y, z = mesh.positions.T
    return mesh.edit(positions=np.stack([x, -z, y], axis=1))


def renamed(files: Files) -> Files:
    return {name.replace("manta.00", "manta."): data for name, data in files.items()}
