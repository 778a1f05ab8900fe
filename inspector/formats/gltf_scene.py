"""The document of a glTF file: its pieces, its nodes with their places in the world, its materials.

Source: Khronos, glTF 2.0 specification: 3.4 (Y is up, units are metres), 3.5 (nodes), 3.6 (buffers), 3.9 (materials),
4 (GLB).
"""

from __future__ import annotations

import base64
import binascii
import json
import struct
from collections.abc import Iterator
from typing import Any
from urllib.parse import unquote

import numpy as np
import numpy.typing as npt

from inspector.formats.format import Beside
from inspector.formats.mesh import Image, Material
from inspector.formats.problems import UnreadableFrame
from inspector.names import Name

Document = dict[str, Any]
Matrix = npt.NDArray[np.float64]

MAGIC = b"glTF"
_JSON_CHUNK, _BINARY_CHUNK = 0x4E4F534A, 0x004E4942
_ENDINGS = {"image/png": "png", "image/jpeg": "jpg"}


def broken(reason: str) -> UnreadableFrame:
    """The file breaks the specification."""
    return UnreadableFrame("broken-form", reason=reason)


def open_document(data: bytes) -> tuple[Document, bytes]:
    """The JSON document of a .glb or .gltf file, and the binary chunk (b"" where there is none)."""
    text, binary = _chunks(data) if data.startswith(MAGIC) else (data, b"")
    try:
        document = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise broken(f"the JSON can't be read ({error})") from error
    if not isinstance(document, dict):
        raise broken("the JSON is not an object")
    version = str(document.get("asset", {}).get("version", ""))
    if not version.startswith("2."):
        raise UnreadableFrame("not-supported", reason=f"version {version or 'unstated'} of glTF; 2.0 is read")
    needed = document.get("extensionsRequired", [])
    if needed:
        raise UnreadableFrame("not-supported", reason=f"extensions of glTF: {', '.join(map(str, needed))}")
    return document, binary


def _chunks(data: bytes) -> tuple[bytes, bytes]:
    """The first JSON and the first binary chunk (specification 4.4); others are to be ignored."""
    if len(data) < 12:
        raise UnreadableFrame("too-short")
    _, _, length = struct.unpack_from("<4sII", data)
    if length > len(data):
        raise UnreadableFrame("too-short")
    found: dict[int, bytes] = {}
    at = 12
    while at + 8 <= length:
        size, kind = struct.unpack_from("<II", data, at)
        if at + 8 + size > length:
            raise UnreadableFrame("too-short")
        found.setdefault(kind, data[at + 8 : at + 8 + size])
        at += 8 + size
    if _JSON_CHUNK not in found:
        raise broken("there is no JSON chunk")
    return found[_JSON_CHUNK], found.get(_BINARY_CHUNK, b"")


def buffers(document: Document, binary: bytes, beside: Beside) -> list[bytes]:
    """The bytes of all buffers; those in other files through `beside`."""
    whole = []
    for number, buffer in enumerate(document.get("buffers", [])):
        if "uri" in buffer:
            content = _inside(buffer["uri"])
            content = beside(unquote(buffer["uri"])) if content is None else content
        else:
            content = binary if number == 0 else b""
        if len(content) < buffer["byteLength"]:
            raise UnreadableFrame("too-short")
        whole.append(content)
    return whole


def _inside(uri: str) -> bytes | None:
    """The content of a data URI (RFC 2397); None for any other."""
    if not uri.startswith("data:"):
        return None
    try:
        return base64.b64decode(uri.partition(",")[2], validate=True)
    except (binascii.Error, ValueError) as error:
        raise broken(f"a data URI can't be read ({error})") from error


def placed_meshes(document: Document) -> Iterator[tuple[int, str | None, Matrix]]:
    """Every use of a mesh in the scene, in the document's order: its number, the node's name, its place in the world.

    Without a scene: all nodes that are nobody's child.
    """
    nodes = document.get("nodes", [])
    scenes = document.get("scenes", [])
    if scenes:
        roots = scenes[document.get("scene", 0)].get("nodes", [])
    else:
        children = {child for node in nodes for child in node.get("children", [])}
        roots = [number for number in range(len(nodes)) if number not in children]
    pending = [(number, np.eye(4)) for number in reversed(roots)]
    seen: set[int] = set()
    while pending:
        number, parent = pending.pop()
        if number in seen:  # a few shared children, level by level, would stand for billions of nodes
            raise broken("a node has two parents or is its own ancestor (specification 3.5.2: strict trees)")
        seen.add(number)
        node = nodes[number]
        world = parent @ _local(node)
        if "mesh" in node:
            yield node["mesh"], node.get("name"), world
        pending += [(child, world) for child in reversed(node.get("children", []))]


def _local(node: Document) -> Matrix:
    """Matrix of a node seen from its parent: stored by columns, or translation * rotation * scale (3.5.3)."""
    from trimesh.transformations import quaternion_matrix

    if "matrix" in node:
        return np.array(node["matrix"], np.float64).reshape(4, 4).T
    matrix = np.eye(4)
    matrix[:3, 3] = node.get("translation", (0, 0, 0))
    x, y, z, w = node.get("rotation", (0, 0, 0, 1))
    scale = np.diag([*node.get("scale", (1, 1, 1)), 1.0])
    turned: Matrix = matrix @ quaternion_matrix((w, x, y, z)) @ scale  # type: ignore[no-untyped-call]
    return turned


def materials(document: Document, whole: list[bytes]) -> tuple[Material, ...]:
    """The materials by their number; names that repeat or are missing are made distinct."""
    found: list[Material] = []
    taken: set[str] = set()
    for number, material in enumerate(document.get("materials", [])):
        name = material.get("name") or f"material{number + 1}"
        while name in taken:
            name += f"_{number + 1}"
        taken.add(name)
        surface = material.get("pbrMetallicRoughness", {})
        red, green, blue, alpha = surface.get("baseColorFactor", (1.0, 1.0, 1.0, 1.0))
        texture = surface.get("baseColorTexture")
        found.append(
            Material(
                Name(name.encode("utf-8", "surrogateescape")),
                (float(red), float(green), float(blue)),
                1.0 if material.get("alphaMode", "OPAQUE") == "OPAQUE" else float(alpha),
                None if texture is None else _image(document, whole, texture["index"]),
            )
        )
    return tuple(found)


def _image(document: Document, whole: list[bytes], texture: int) -> Image | None:
    source = document["textures"][texture].get("source")
    if source is None:
        return None
    image = document["images"][source]
    uri = image.get("uri")
    data = None if uri is None else _inside(uri)
    if uri is not None and data is None:
        return Image(Name(unquote(uri).encode("utf-8", "surrogateescape")))
    if data is None:
        view = document["bufferViews"][image["bufferView"]]
        start = view.get("byteOffset", 0)
        data = whole[view["buffer"]][start : start + view["byteLength"]]
    kind = image.get("mimeType") or ("image/png" if data.startswith(b"\x89PNG") else "image/jpeg")
    stem = image.get("name") or f"texture{source + 1}"
    return Image(Name(f"{_plain(stem)}.{_ENDINGS.get(kind, 'png')}".encode()), data)


def _plain(name: str) -> str:
    """A name from the file as the name of a file: nothing in it may lead elsewhere."""
    kept = "".join(letter if letter.isalnum() or letter in "-_" else "_" for letter in name.rsplit(".", 1)[0])
    return kept[:100] or "texture"
