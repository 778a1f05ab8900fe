"""The healthy shot with its UVs changed. Its two islands lie at u 0 to 0.4 and 0.5 to 0.9, v 0 to 1."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.helpers.meshes import Floats, Mesh
from tests.helpers.sequences import Files, shot
from tests.helpers.surfaces import NUMBERS

RIGHT = 12
"""The first UV of the right island."""


def moved(u: float, v: float) -> Callable[[Floats], Floats]:
    """UVs moved along."""
    return lambda uvs: uvs + np.array([u, v])


def laid(change: Callable[[Floats], Floats], first: int = RIGHT) -> Callable[[Mesh], Mesh]:
    """The mesh with its UVs from the number `first` on changed."""
    return lambda mesh: mesh.edit(uvs=np.concatenate([mesh.uvs[:first], change(mesh.uvs[first:])]))


def all_laid(change: Callable[[Floats], Floats], first: int = RIGHT, **more: bytes) -> Files:
    """The healthy shot with every frame's UVs changed in one way; further files or other ones by name."""
    return shot(dict.fromkeys(NUMBERS, laid(change, first))) | more


def unpainted(files: Files) -> Files:
    """The same without a texture."""
    kept = {name: data for name, data in files.items() if name != "skin.png"}
    return kept | {"manta.mtl": b"newmtl skin\nKd 1 1 1\n"}
