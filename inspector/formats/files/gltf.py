"""glTF 2.0, .glb and .gltf. Arrays are decoded by trimesh; nodes and materials are ours, which keeps their order.

Source: Khronos, glTF 2.0 specification.
"""

from __future__ import annotations

import io
import json
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from inspector.formats.format import Beside, Format, Trait
from inspector.formats.gltf_out import write
from inspector.formats.gltf_scene import MAGIC, Document, broken, buffers, materials, open_document, placed_meshes
from inspector.formats.mesh import Material, Mesh, Part, corners_of, join_meshes, legal, placed
from inspector.formats.problems import UnreadableFrame
from inspector.names import Name

_TRIANGLES, _STRIP, _FAN = 4, 5, 6  # modes of a primitive (specification 5.24.4); below 4: points and lines
_UVS = "_UVS"
_LEAVES = (
    "vertices with several UVs or normals are split; objects become one mesh; of a material its colour, opacity and "
    "one PNG or JPEG stay; numbers are single precision"
)
_CARRIES = frozenset({Trait.UVS, Trait.NORMALS, Trait.SHARED, Trait.OBJECTS, Trait.MATERIALS})


def read(data: bytes, beside: Beside) -> Mesh:
    """All meshes of the scene in world space: Y up, metres. Each primitive is a part; vertices stay in their order."""
    try:
        document, binary = open_document(data)
        whole = buffers(document, binary, beside)
        known = materials(document, whole)
        decoded = _decoded(document, whole)
        pieces = list(_pieces(document, decoded, known))
        if not pieces:
            raise UnreadableFrame("no-mesh")
        return join_meshes(pieces, known)
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


def _pieces(document: Document, decoded: dict[str, dict[str, Any]], known: tuple[Material, ...]) -> Iterator[Mesh]:
    """One mesh for each primitive of each mesh in the scene, in its place in the world. A mirroring matrix turns the
    winding (specification 3.7.4)."""
    for mesh, name, world in placed_meshes(document):
        for place, primitive in enumerate(document["meshes"][mesh]["primitives"]):
            piece = decoded.get(f"{mesh}.{place}")
            if piece is None:
                continue
            label = name or document["meshes"][mesh].get("name")
            material = known[primitive["material"]].name if "material" in primitive else None
            yield placed(_piece(piece, label, material), world)


def _piece(piece: dict[str, Any], label: str | None, material: Name | None) -> Mesh:
    positions = np.asarray(piece["vertices"])
    v = legal(np.asarray(piece["faces"], np.int64).reshape(-1), len(positions))
    uvs, normals = piece.get("vertex_attributes", {}).get(_UVS), piece.get("vertex_normals")
    name = None if label is None else Name(label.encode("utf-8", "surrogateescape"))
    return Mesh(
        positions,
        corners_of(np.arange(0, len(v) + 1, 3), v, None if uvs is None else v, None if normals is None else v),
        np.zeros((0, 2), np.float32) if uvs is None else _bottom_left(np.asarray(uvs)),
        np.zeros((0, 3), np.float32) if normals is None else np.asarray(normals),
        (Part(0, len(v) // 3, name, material),),
    )


FORMATS = (
    Format("glb", "GLB", (b".glb",), _CARRIES, lambda head, _: head.startswith(MAGIC), read, write, leaves=_LEAVES),
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
