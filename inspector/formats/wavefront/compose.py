"""A mesh of any format as the text of an OBJ file and of its material library."""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np

from inspector.formats.frame import Corners
from inspector.formats.mesh import Material, Mesh, Numbers, Part
from inspector.formats.wavefront.digits import format_faces
from inspector.names import Name

# A name ends with its line; a backslash at the end would join the next line to it.
_NOT_IN_NAMES = re.compile(rb"[\x00-\x1f\x7f]|\\+$")


def compose(mesh: Mesh, library: Name | None = None) -> bytes:
    """OBJ text. Numbers with all digits that their type holds: read back, they are the same. library: the name for an
    mtllib line, written if the mesh has materials."""
    pieces = [] if library is None or not mesh.materials else [b"mtllib " + library.raw + b"\n"]
    pieces += [_rows(b"v", mesh.positions), _rows(b"vt", mesh.uvs), _rows(b"vn", mesh.normals)]
    before = Part(0, 0)
    for part in mesh.parts:
        if part.object is not None and part.object != before.object:
            pieces.append(b"o " + plain_name(part.object) + b"\n")
        if part.material is not None and part.material != before.material:
            pieces.append(b"usemtl " + plain_name(part.material) + b"\n")
        pieces.append(_faces(mesh.corners, part))
        before = part
    return b"".join(pieces)


def compose_library(materials: Iterable[Material]) -> bytes:
    """MTL text: diffuse colour, opacity where there is any, and the colour's texture."""
    lines = []
    for material in materials:
        lines.append(b"newmtl " + plain_name(material.name))
        if material.colour is not None:
            lines.append(b"Kd %.9g %.9g %.9g" % material.colour)
        if material.opacity < 1.0:
            lines.append(b"d %.9g" % material.opacity)
        if material.image is not None:
            lines.append(b"map_Kd " + plain_name(material.image.name))
    return b"".join(line + b"\n" for line in lines)


def plain_name(name: Name) -> bytes:
    """A name that an OBJ or MTL line can hold."""
    return _NOT_IN_NAMES.sub(b"_", name.raw.strip()) or b"unnamed"


def _rows(keyword: bytes, values: Numbers) -> bytes:
    # 9 significant digits tell every float32 apart (IEEE 754-2019, 5.12.2); repr gives the fewest that tell a float64.
    number = b"%.9g" if values.dtype.itemsize <= 4 else b"%a"
    line = b" ".join([keyword, *[number] * values.shape[1]]) + b"\n"
    text: bytes = line * len(values) % tuple(np.asarray(values, np.float64).ravel().tolist())
    return text


def _faces(corners: Corners, part: Part) -> bytes:
    first, last = corners.offsets[part.start], corners.offsets[part.stop]
    offsets = corners.offsets[part.start : part.stop + 1] - first
    return format_faces(offsets, corners.v[first:last], corners.vt[first:last], corners.vn[first:last])
