"""The healthy shot with changed UVs.

The shot has two UV islands, with u from 0 to 0.4 and from 0.5 to 0.9, and with v from 0 to 1.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.helpers.meshes import Floats, Mesh
from tests.helpers.sequences import Files, shot
from tests.helpers.surfaces import NUMBERS

RIGHT = 12
"""Index of the first UV of the right island."""


def moved(u: float, v: float) -> Callable[[Floats], Floats]:
    return lambda uvs: uvs + np.array([u, v])


def laid(change: Callable[[Floats], Floats], first: int = RIGHT) -> Callable[[Mesh], Mesh]:
    """Return a function that changes all UVs of a mesh from the index `first` on."""
    return lambda mesh: mesh.edit(uvs=np.concatenate([mesh.uvs[:first], change(mesh.uvs[first:])]))


def all_laid(change: Callable[[Floats], Floats], first: int = RIGHT, **more: bytes) -> Files:
    """Return the healthy shot with the UVs of every frame changed in the same way. `more` adds or replaces files by
    name."""
    return shot(dict.fromkeys(NUMBERS, laid(change, first))) | more


def unpainted(files: Files) -> Files:
    kept = {name: data for name, data in files.items() if name != "skin.png"}
    return kept | {"manta.mtl": b"newmtl skin\nKd 1 1 1\n"}
