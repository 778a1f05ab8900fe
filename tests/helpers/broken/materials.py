"""Meshes and sequences with wrong materials or paths."""

from __future__ import annotations

from collections.abc import Callable

from tests.helpers.meshes import Mesh
from tests.helpers.sequences import MATERIALS, shot


def without_material(mesh: Mesh) -> Mesh:
    return mesh.edit(state=())


def counted_materials(numbers: range) -> bytes:
    return MATERIALS["manta.mtl"] + b"".join(b"newmtl skin.%03d\n" % number for number in numbers)


ODD_PATHS = {
    "what?.png": ("reserved", "warning"),
    "ab:c.png": ("reserved", "warning"),
    "maps/aux.png": ("reserved", "warning"),
    "maps./skin.png": ("reserved", "warning"),
    "wet skin.png": ("blanks", "note"),
    "m\u00e5nta.png": ("beyond ASCII", "note"),
}


PLAIN = MATERIALS["manta.mtl"]


def uses(*names: str) -> Callable[[Mesh], Mesh]:
    lines = [line for name in names for line in (f"usemtl {name}", "f 1 2 7")]
    return lambda mesh: mesh.edit(state=tuple(lines[:-1]))


def alike(*numbers: int) -> bytes:
    return PLAIN + b"".join(PLAIN.replace(b"skin\n", b"skin.%03d\n" % number, 1) for number in numbers)


COUNTED = shot({number: uses(f"skin.{number:03}") for number in (3, 4, 5)}) | {"manta.mtl": alike(3, 4, 5)}
