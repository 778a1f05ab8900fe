"""A mesh as a GLB file. Source: Khronos, glTF 2.0 specification: 3.6 (buffers), 3.7 (geometry), 3.9 (materials), 4."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Image, Material, Mesh, Part
from inspector.names import Name

_FLOAT, _UINT = 5126, 5125  # componentType (5.1.3)
_VERTICES, _INDICES = 34962, 34963  # target of a buffer view (5.11.5)


class _Writer:
    """A document and its one buffer under construction."""

    def __init__(self) -> None:
        self.buffer = bytearray()
        self.document: dict[str, Any] = {"asset": {"version": "2.0", "generator": "meshqc"}}

    def put(self, key: str, value: dict[str, Any]) -> int:
        entries = self.document.setdefault(key, [])
        entries.append(value)
        return len(entries) - 1

    def view(self, data: bytes, **more: int) -> int:
        self.buffer += bytes(-len(self.buffer) % 4)  # 3.6.2.4: aligned to the component's size
        start = len(self.buffer)
        self.buffer += data
        return self.put("bufferViews", {"buffer": 0, "byteOffset": start, "byteLength": len(data), **more})

    def accessor(self, values: npt.NDArray[Any], target: int, bounds: bool = False) -> int:
        kind = _UINT if target == _INDICES else _FLOAT
        shape = {1: "SCALAR", 2: "VEC2", 3: "VEC3"}[1 if values.ndim == 1 else values.shape[1]]
        accessor = {
            "bufferView": self.view(values.tobytes(), target=target),
            "componentType": kind,
            "count": len(values),
            "type": shape,
        }
        if bounds:  # 3.7.2.1: positions must have them
            accessor |= {"min": values.min(axis=0).tolist(), "max": values.max(axis=0).tolist()}
        return self.put("accessors", accessor)

    def bytes(self) -> bytes:
        self.buffer += bytes(-len(self.buffer) % 4)
        self.document["buffers"] = [{"byteLength": len(self.buffer)}]
        text = json.dumps(self.document, separators=(",", ":")).encode("ascii")
        text += b" " * (-len(text) % 4)
        chunks = struct.pack("<II", len(text), 0x4E4F534A) + text
        chunks += struct.pack("<II", len(self.buffer), 0x004E4942) + bytes(self.buffer)
        return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def write(mesh: Mesh) -> bytes:
    """All faces must be triangles. One primitive for each material; a vertex with several UVs or normals becomes as
    many vertices, in the order of the mesh's vertices. Materials keep
    colour, opacity, and a PNG or JPEG inside the file."""
    writer = _Writer()
    materials = {material.name: _material(writer, material) for material in mesh.materials}
    primitives = [
        _primitive(writer, mesh, faces, None if name is None else materials.get(name))
        for name, faces in _by_material(mesh.parts).items()
        if len(faces)
    ]
    objects = [part.object for part in mesh.parts if part.object is not None]
    name = objects[0].display if objects else "mesh"
    if primitives:
        writer.put("meshes", {"primitives": primitives})
        writer.put("nodes", {"mesh": 0, "name": name})
    writer.document |= {"scenes": [{"nodes": [0] if primitives else []}], "scene": 0}
    return writer.bytes()


def _by_material(parts: tuple[Part, ...]) -> dict[Name | None, npt.NDArray[np.int64]]:
    faces: dict[Name | None, list[npt.NDArray[np.int64]]] = {}
    for part in parts:
        faces.setdefault(part.material, []).append(np.arange(part.start, part.stop, dtype=np.int64))
    return {name: np.concatenate(pieces) for name, pieces in faces.items()}


def _primitive(writer: _Writer, mesh: Mesh, faces: npt.NDArray[np.int64], material: int | None) -> dict[str, Any]:
    corners = mesh.corners
    at = (3 * faces[:, None] + np.arange(3)).reshape(-1)
    rows = np.column_stack([corners.v[at], corners.vt[at], corners.vn[at]])
    distinct, indices = np.unique(rows, axis=0, return_inverse=True)
    v, vt, vn = distinct.T
    positions = np.ascontiguousarray(mesh.positions[v], "<f4")
    attributes = {"POSITION": writer.accessor(positions, _VERTICES, bounds=True)}
    if not (vn == ABSENT).any():
        attributes["NORMAL"] = writer.accessor(np.ascontiguousarray(mesh.normals[vn], "<f4"), _VERTICES)
    if not (vt == ABSENT).any():  # 3.8.3: the origin of UVs is the top left
        flipped = np.column_stack([mesh.uvs[vt, 0], 1 - mesh.uvs[vt, 1]])
        attributes["TEXCOORD_0"] = writer.accessor(np.ascontiguousarray(flipped, "<f4"), _VERTICES)
    primitive = {"attributes": attributes, "indices": writer.accessor(indices.reshape(-1).astype("<u4"), _INDICES)}
    return primitive if material is None else {**primitive, "material": material}


def _material(writer: _Writer, material: Material) -> int:
    red, green, blue = material.colour or (1.0, 1.0, 1.0)
    surface: dict[str, Any] = {"baseColorFactor": [red, green, blue, material.opacity], "metallicFactor": 0.0}
    image = None if material.image is None else _image(writer, material.image)
    if image is not None:
        surface["baseColorTexture"] = {"index": writer.put("textures", {"source": image})}
    entry: dict[str, Any] = {"name": material.name.display, "pbrMetallicRoughness": surface}
    return writer.put("materials", {**entry, "alphaMode": "BLEND"} if material.opacity < 1 else entry)


def _image(writer: _Writer, image: Image) -> int | None:
    """Its number in the file; None for what the format can't hold (3.9.1.1: PNG and JPEG)."""
    kinds = {b"\x89PNG": "image/png", b"\xff\xd8\xff": "image/jpeg"}
    kind = next((kind for head, kind in kinds.items() if image.data is not None and image.data.startswith(head)), None)
    if kind is None or image.data is None:
        return None
    return writer.put("images", {"bufferView": writer.view(image.data), "mimeType": kind, "name": image.name.display})
