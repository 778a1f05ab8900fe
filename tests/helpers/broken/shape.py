"""Meshes and sequences with faulty faces."""

from __future__ import annotations

from math import cos, sin, tau

from tests.helpers.meshes import Mesh
from tests.helpers.one_thing import FACE, every
from tests.helpers.sequences import Files


def doubled(mesh: Mesh) -> Mesh:
    """Add a copy of face 3 with the corners in the same cyclic order, starting at the second corner."""
    face = mesh.faces[2]
    return mesh.edit(faces=(*mesh.faces, face[1:] + face[:1]))


def backed(mesh: Mesh) -> Mesh:
    return mesh.edit(faces=(*mesh.faces, mesh.faces[2][::-1]))


def with_ring(corners: int) -> Files:
    """Return the healthy shot with a separate n-gon in every frame. The n-gon's UVs are to the right of the wing's UV
    islands."""
    ring = [(cos(tau * at / corners), sin(tau * at / corners)) for at in range(corners)]
    lines = b"".join(b"v %.6f %.6f 0.000000\n" % at for at in ring)
    uvs = b"".join(b"vt %.6f %.6f\n" % (0.95 + 0.04 * x, 0.5 + 0.04 * y) for x, y in ring)
    face = b"f" + b"".join(b" %d/%d" % (21 + at, 25 + at) for at in range(corners)) + b"\n"
    return every(lambda text: text.replace(b"vt", lines + b"vt", 1).replace(b"s 1", uvs + b"s 1") + face)


def corner_repeated(text: bytes) -> bytes:
    return text.replace(FACE, b"f 1/1 2/2 2/2 6/4")


TAIL = [[5.0, 0, 0], [6, 0, 0], [5.5, 0, 1]]
FLAT = {
    "on a line": [[5.0, 0, 0], [6, 0.5, 0], [5.3, 0.15, 0]],
    "two in one point": [[5.0, 0, 0], [6, 0, 0], [6, 0, 0]],
    "all in one point": [[6.0, 0, 0]] * 3,
    "four on a line": [[5.0, 0, 0], [5.2, 0, 0], [6, 0, 0], [5.7, 0, 0]],
}
