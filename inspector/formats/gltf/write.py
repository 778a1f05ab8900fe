"""Writing a mesh as a GLB file. The maps of the mesh's materials must already be in the channels that the format
prescribes (see `delivery/gltf_maps.py`).

Source: Khronos, glTF 2.0 specification: 3.6 (buffers), 3.7 (geometry), 3.9 (materials), 4 (GLB).
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

import numpy as np
import numpy.typing as npt

from inspector.arrays import SmallIndices
from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Image, Map, Material, Mesh, Slot, unit_normals
from inspector.formats.wavefront.opacity import TR
from inspector.names import Name

_FLOAT, _UINT = 5126, 5125  # componentType (5.1.3)
_VERTICES, _INDICES = 34962, 34963  # target of a buffer view (5.11.5)
_CLAMP = 33071  # wrapS, wrapT (5.26.3)


class _Writer:
    """A document and its only buffer, while they are being written."""

    def __init__(self) -> None:
        self.buffer = bytearray()
        self.document: dict[str, Any] = {"asset": {"version": "2.0", "generator": "meshqc"}}
        self._known: dict[object, int] = {}

    def put(self, key: str, value: dict[str, Any]) -> int:
        entries = self.document.setdefault(key, [])
        entries.append(value)
        return len(entries) - 1

    def put_once(self, key: str, value: dict[str, Any]) -> int:
        """Return the index of an entry in the document's list `key`; add the entry if necessary."""
        known = (key, json.dumps(value, sort_keys=True))
        if known not in self._known:
            self._known[known] = self.put(key, value)
        return self._known[known]

    def image(self, image: Image) -> int:
        """Return the index of an image; add it if necessary, by name if it is a separate file, otherwise as bytes."""
        if image not in self._known:
            if image.data is None:
                entry: dict[str, Any] = {"uri": quote(image.name.raw)}
            else:
                kind = "image/png" if image.data.startswith(b"\x89PNG") else "image/jpeg"
                entry = {"bufferView": self.view(image.data), "mimeType": kind, "name": image.name.display}
            self._known[image] = self.put("images", entry)
        return self._known[image]

    def view(self, data: bytes, **more: int) -> int:
        self.buffer += bytes(-len(self.buffer) % 4)  # 3.6.2.4: data is aligned to the size of its components
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
        if bounds:  # 3.7.2.1: positions must have bounds
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
    """Write a mesh as a GLB file. All faces must be triangles.

    Each object becomes a node. For each of the object's materials, the node has one primitive or, if only some faces
    have UVs or normals, up to four primitives. If the mesh has no faces, the vertices become points.
    """
    writer = _Writer()
    known = {one.name: one for one in mesh.materials}
    named = dict.fromkeys(part.material for part in mesh.parts if part.material is not None and part.stop > part.start)
    every = {**known, **{name: Material(name) for name in named if name not in known}}
    materials = {name: _material(writer, one, mesh.double_sided) for name, one in every.items()}
    bare = writer.put("materials", {"doubleSided": True}) if mesh.double_sided and _any_bare(mesh) else None
    objects: dict[Name | None, list[dict[str, Any]]] = {}
    for label, name, slots, faces in _groups(mesh):
        material = bare if name is None else materials[name]
        objects.setdefault(label, []).append(_primitive(writer, mesh, faces, material, slots))
    if not objects and len(mesh.positions):
        objects[None] = [_points(writer, mesh)]
    for label, primitives in objects.items():
        number = writer.put("meshes", {"primitives": primitives})
        writer.put("nodes", {"mesh": number, "name": "mesh" if label is None else label.display})
    writer.document |= {"scenes": [{"nodes": list(range(len(objects)))} if objects else {}], "scene": 0}
    return writer.bytes()


def _any_bare(mesh: Mesh) -> bool:
    return any(part.material is None and part.stop > part.start for part in mesh.parts)


def _groups(mesh: Mesh) -> Iterator[tuple[Name | None, Name | None, tuple[bool, bool], npt.NDArray[np.int64]]]:
    """Group the faces by object, by material, by whether all corners of a face have UVs, and by whether all corners of
    a face have normals. A normal of length 0 counts as missing.

    Yields:
        The object; the material; whether the faces have UVs, and whether they have normals; and the indices of the
        faces.
    """
    corners = mesh.corners
    lit = corners.vn != ABSENT
    # 3.7.2.1 requires unit length; faces without normals are shaded flat.
    lit[lit] = np.any(mesh.normals[corners.vn[lit]] != 0, axis=1)
    has = [flags.reshape(-1, 3).all(axis=1) for flags in (corners.vt != ABSENT, lit)]
    alike: dict[tuple[Name | None, Name | None], list[npt.NDArray[np.int64]]] = {}
    for part in mesh.parts:
        alike.setdefault((part.object, part.material), []).append(np.arange(part.start, part.stop, dtype=np.int64))
    for (label, name), pieces in alike.items():
        faces = np.concatenate(pieces)
        for slots in ((True, True), (True, False), (False, True), (False, False)):
            chosen = faces[(has[0][faces] == slots[0]) & (has[1][faces] == slots[1])]
            if len(chosen):
                yield label, name, slots, chosen


def _points(writer: _Writer, mesh: Mesh) -> dict[str, Any]:
    """Make a primitive that shows the vertices as points (glTF 2.0, 3.7.2.1)."""
    positions = np.ascontiguousarray(mesh.positions, "<f4")
    attributes = {"POSITION": writer.accessor(positions, _VERTICES, bounds=True)}
    if len(mesh.colours):
        attributes["COLOR_0"] = writer.accessor(np.ascontiguousarray(mesh.colours, "<f4"), _VERTICES)
    return {"attributes": attributes, "mode": 0}


def _primitive(
    writer: _Writer, mesh: Mesh, faces: npt.NDArray[np.int64], material: int | None, slots: tuple[bool, bool]
) -> dict[str, Any]:
    corners = mesh.corners
    at = (3 * faces[:, None] + np.arange(3)).reshape(-1)
    indices = [corners.v[at], *(index[at] for index, has in zip((corners.vt, corners.vn), slots, strict=True) if has)]
    distinct, order = _distinct(np.column_stack(indices))
    v = distinct[:, 0]
    positions = np.ascontiguousarray(mesh.positions[v], "<f4")
    attributes = {"POSITION": writer.accessor(positions, _VERTICES, bounds=True)}
    if slots[1]:
        normals = unit_normals(mesh.normals[distinct[:, -1]])
        attributes["NORMAL"] = writer.accessor(np.ascontiguousarray(normals, "<f4"), _VERTICES)
    if slots[0]:  # 3.8.3: the origin of UVs is the top left
        uvs = mesh.uvs[distinct[:, 1]]
        flipped = np.column_stack([uvs[:, 0], 1 - uvs[:, 1]])
        attributes["TEXCOORD_0"] = writer.accessor(np.ascontiguousarray(flipped, "<f4"), _VERTICES)
    if len(mesh.colours):
        attributes["COLOR_0"] = writer.accessor(np.ascontiguousarray(mesh.colours[v], "<f4"), _VERTICES)
    primitive = {"attributes": attributes, "indices": writer.accessor(order.astype("<u4"), _INDICES)}
    return primitive if material is None else {**primitive, "material": material}


def _distinct(rows: SmallIndices) -> tuple[SmallIndices, npt.NDArray[np.int64]]:
    """Find the distinct rows of an array, (n, c), in a third of the time that numpy.unique takes.

    Returns:
        The distinct rows, sorted, and the index of each original row among them, (n,).
    """
    rank = np.lexsort(rows.T[::-1])
    ordered = rows[rank]
    differs = np.ones(len(rows), bool)
    differs[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    order = np.empty(len(rows), np.int64)
    order[rank] = np.cumsum(differs) - 1
    return ordered[differs], order


def _material(writer: _Writer, material: Material, double_sided: bool) -> int:
    """Add a material with its maps, and return its index. If neither a metallic factor nor a metallic map is stated,
    the factor 0 is written, because the default is 1.
    """
    red, green, blue = material.colour or (1.0, 1.0, 1.0)
    rough, metal = material.map(Slot.ROUGHNESS), material.map(Slot.METALLIC)
    metallic = material.metallic if material.metallic is not None else 0.0 if metal is None else 1.0
    surface: dict[str, Any] = {"baseColorFactor": [red, green, blue, material.opacity], "metallicFactor": metallic}
    if material.roughness is not None:
        surface["roughnessFactor"] = material.roughness
    if colour := material.map(Slot.COLOUR):
        surface["baseColorTexture"] = _texture(writer, colour)
    if packed := rough or metal:
        surface["metallicRoughnessTexture"] = _texture(writer, packed)
    entry: dict[str, Any] = {"name": material.name.display, "pbrMetallicRoughness": surface}
    if normal := material.map(Slot.NORMAL):
        scale = {} if normal.strength == 1.0 else {"scale": normal.strength}
        entry["normalTexture"] = {**_texture(writer, normal), **scale}
    _emission(writer, material, entry)
    if material.opacity < 1 or material.map(Slot.OPACITY) is not None:
        entry["alphaMode"] = "BLEND"
    if double_sided:
        entry["doubleSided"] = True
    if material.tr is not None:
        entry["extras"] = {TR: material.tr}
    return writer.put("materials", entry)


def _emission(writer: _Writer, material: Material, entry: dict[str, Any]) -> None:
    glow = material.map(Slot.EMISSIVE)
    if glow is None and not any(material.emissive or ()):
        return
    emits = material.emissive or (1.0, 1.0, 1.0)
    strongest = max(*emits, 1.0)  # factors are at most 1 (3.9.3); brighter light needs an extension
    entry["emissiveFactor"] = [one / strongest for one in emits]
    if strongest > 1:
        entry["extensions"] = {"KHR_materials_emissive_strength": {"emissiveStrength": strongest}}
        writer.document["extensionsUsed"] = ["KHR_materials_emissive_strength"]
    if glow is not None:
        entry["emissiveTexture"] = _texture(writer, glow)


def _texture(writer: _Writer, one: Map) -> dict[str, Any]:
    texture: dict[str, Any] = {"source": writer.image(one.image)}
    if one.clamp:
        texture["sampler"] = writer.put_once("samplers", {"wrapS": _CLAMP, "wrapT": _CLAMP})
    return {"index": writer.put_once("textures", texture)}
