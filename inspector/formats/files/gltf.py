"""glTF 2.0, .glb and .gltf. Arrays are decoded by trimesh; nodes and materials are ours, which keeps their order.

Source: Khronos, glTF 2.0 specification.
"""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from typing import Any

import numpy as np

from inspector.formats.format import Beside, Format, Trait
from inspector.formats.frame import ABSENT
from inspector.formats.gltf_scene import MAGIC, Document, broken, buffers, materials, open_document, placed_meshes
from inspector.formats.mesh import Material, Mesh, Part, corners_of, legal
from inspector.formats.problems import UnreadableFrame
from inspector.names import Name

_TRIANGLES, _STRIP, _FAN = 4, 5, 6  # modes of a primitive (specification 5.24.4); below 4: points and lines
_UVS = "_UVS"
_CARRIES = frozenset({Trait.UVS, Trait.NORMALS, Trait.SHARED, Trait.OBJECTS, Trait.MATERIALS})


def read(data: bytes, beside: Beside) -> Mesh:
    """All meshes of the scene in world space: Y up, metres. Each primitive is a part; vertices stay in their order."""
    try:
        document, binary = open_document(data)
        whole = buffers(document, binary, beside)
        known = materials(document, whole)
        decoded = _decoded(document, whole)
        return _joined(_Pieces(document, decoded, known))
    except UnreadableFrame:
        raise
    except Exception as error:  # a file that breaks the rules can break them, and trimesh, in any way
        raise broken(f"{type(error).__name__}: {error}") from error


def _decoded(document: Document, whole: Sequence[bytes]) -> dict[str, dict[str, Any]]:
    """What trimesh makes of each primitive, by "mesh.primitive".

    It is given a document without nodes, materials and images, where each primitive is a mesh: it names meshes in its
    own way and would decode every texture. UVs go as an attribute of our own (specification 3.7.2.1 leaves names with
    an underscore free): it drops those of a primitive without a material, and takes whole numbers for what they aren't.
    """
    from trimesh.exchange.gltf import load_gltf

    if any("sparse" in one or "bufferView" not in one for one in document.get("accessors", [])):
        raise UnreadableFrame("not-supported", reason="accessors that are sparse or without data")
    meshes = []
    for number, mesh in enumerate(document.get("meshes", [])):
        for place, primitive in enumerate(mesh["primitives"]):
            mode = primitive.get("mode", _TRIANGLES)
            if mode == _FAN:
                raise UnreadableFrame("not-supported", reason="triangle fans")
            if mode in (_TRIANGLES, _STRIP):
                bare = {key: primitive[key] for key in ("indices", "mode") if key in primitive}
                bare["attributes"] = _attributes(document, primitive)
                meshes.append({"name": f"{number}.{place}", "primitives": [bare]})
    plain = {
        "asset": {"version": "2.0"},
        "accessors": document.get("accessors", []),
        "bufferViews": document.get("bufferViews", []),
        "buffers": [{"uri": f"{number}", "byteLength": len(part)} for number, part in enumerate(whole)],
        "meshes": meshes,
    }
    resolver = {str(number): part for number, part in enumerate(whole)}
    loaded = load_gltf(io.BytesIO(json.dumps(plain).encode()), resolver=resolver)
    geometry: dict[str, dict[str, Any]] = loaded["geometry"]
    return geometry


def _attributes(document: Document, primitive: Document) -> Document:
    given = primitive["attributes"]
    material = document["materials"][primitive["material"]] if "material" in primitive else {}
    texture = material.get("pbrMetallicRoughness", {}).get("baseColorTexture", {})
    wanted = {"POSITION": "POSITION", "NORMAL": "NORMAL", _UVS: f"TEXCOORD_{texture.get('texCoord', 0)}"}
    return {name: given[key] for name, key in wanted.items() if key in given}


def _bottom_left(uvs: Any) -> Any:
    """UVs as floats with the origin at the bottom left; glTF's is at the top left (specification 3.8.3). Whole numbers
    stand for shares of their type's largest (3.11)."""
    if uvs.dtype.kind == "u":
        uvs = uvs.astype(np.float64) / np.iinfo(uvs.dtype).max
    return np.column_stack([uvs[:, 0], 1 - uvs[:, 1]])


class _Pieces:
    """Gathers the arrays of one primitive after another."""

    def __init__(self, document: Document, decoded: dict[str, dict[str, Any]], known: tuple[Material, ...]) -> None:
        self.materials = known
        self.positions: list[Any] = []
        self.uvs: list[Any] = []
        self.normals: list[Any] = []
        self.slots: list[tuple[Any, Any, Any]] = []
        self.parts: list[Part] = []
        self.counts = [0, 0, 0, 0]  # vertices, UVs, normals, faces so far
        for mesh, name, world in placed_meshes(document):
            for place, primitive in enumerate(document["meshes"][mesh]["primitives"]):
                piece = decoded.get(f"{mesh}.{place}")
                if piece is not None:
                    label = name or document["meshes"][mesh].get("name")
                    self._add(piece, label, primitive.get("material"), world)

    def _add(self, piece: dict[str, Any], name: str | None, material: int | None, world: Any) -> None:
        vertices, uvs, normals, face = self.counts
        v = legal(np.asarray(piece["faces"], np.int64).reshape(-1), len(piece["vertices"]))
        here = np.asarray(piece["vertices"])
        uv = piece.get("vertex_attributes", {}).get(_UVS)
        normal = piece.get("vertex_normals")
        none = np.full(len(v), ABSENT)
        turned = np.linalg.det(world[:3, :3]) < 0  # a mirroring matrix turns the winding (3.7.4)
        order = np.arange(len(v)).reshape(-1, 3)[:, [0, 2, 1]].reshape(-1) if turned else slice(None)
        self.positions.append(_moved(here, world))
        self.slots.append(
            (
                v[order] + vertices,
                none if uv is None else v[order] + uvs,
                none if normal is None else v[order] + normals,
            )
        )
        if uv is not None:
            self.uvs.append(_bottom_left(np.asarray(uv)))
        if normal is not None:
            self.normals.append(_turned(np.asarray(normal), world))
        faces = len(v) // 3
        label = None if name is None else Name(name.encode("utf-8", "surrogateescape"))
        self.parts.append(Part(face, face + faces, label, None if material is None else self.materials[material].name))
        self.counts = [
            vertices + len(here),
            uvs + (0 if uv is None else len(uv)),
            normals + (0 if normal is None else len(normal)),
            face + faces,
        ]


def _moved(positions: Any, world: Any) -> Any:
    if np.array_equal(world, np.eye(4)):
        return positions
    return positions.astype(np.float64) @ world[:3, :3].T + world[:3, 3]


def _turned(normals: Any, world: Any) -> Any:
    """Normals go by the transposed inverse (from memory), back to length 1."""
    if np.array_equal(world[:3, :3], np.eye(3)) or np.linalg.det(world[:3, :3]) == 0:
        return normals
    turned = normals.astype(np.float64) @ np.linalg.inv(world[:3, :3])
    lengths = np.linalg.norm(turned, axis=1, keepdims=True)
    return np.divide(turned, lengths, out=np.zeros_like(turned), where=lengths > 0)


def _joined(pieces: _Pieces) -> Mesh:
    if not pieces.positions:
        raise UnreadableFrame("no-mesh")
    v, vt, vn = (np.concatenate(slots) for slots in zip(*pieces.slots, strict=True))
    return Mesh(
        np.concatenate(pieces.positions),
        corners_of(np.arange(0, len(v) + 1, 3), v, vt, vn),
        np.concatenate(pieces.uvs) if pieces.uvs else np.zeros((0, 2)),
        np.concatenate(pieces.normals) if pieces.normals else np.zeros((0, 3)),
        tuple(pieces.parts),
        pieces.materials,
    )


FORMATS = (
    Format("glb", "GLB", (b".glb",), _CARRIES, lambda head, _: head.startswith(MAGIC), read),
    Format(
        "gltf",
        "glTF",
        (b".gltf",),
        _CARRIES,
        lambda head, _: head.lstrip().startswith(b"{") and b'"asset"' in head,
        read,
        alone=False,
    ),
)
