"""Small glTF documents. Source: Khronos, glTF 2.0 specification; the tests name its sections."""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping
from typing import Any

import numpy as np

POINTS = np.array([(0, 0, 0), (1, 0, 0), (0, 2, 0)], np.float32)
UVS = np.array([(0, 0), (1, 0), (0, 0.25)], np.float32)
FLOAT, USHORT, UINT = 5126, 5123, 5125  # values of componentType (specification 5.1.3)


class Document:
    """A glTF document under construction, with one buffer for all arrays."""

    def __init__(self) -> None:
        self.buffer = b""
        self.views: list[dict[str, int]] = []
        self.accessors: list[dict[str, Any]] = []

    def array(self, values: np.ndarray, kind: int, shape: str, **more: Any) -> int:
        self.views.append(self.bytes(values.tobytes()))
        accessor = {"bufferView": len(self.views) - 1, "componentType": kind, "count": len(values), "type": shape}
        self.accessors.append({**accessor, **more})
        return len(self.accessors) - 1

    def bytes(self, data: bytes) -> dict[str, int]:
        start = len(self.buffer)
        self.buffer += data + bytes(-len(data) % 4)
        return {"buffer": 0, "byteOffset": start, "byteLength": len(data)}

    def json(self, more: Mapping[str, Any], uri: str | None = None) -> bytes:
        buffer = {"byteLength": len(self.buffer), **({} if uri is None else {"uri": uri})}
        whole = {"asset": {"version": "2.0"}, "buffers": [buffer], "bufferViews": self.views}
        return json.dumps({**whole, "accessors": self.accessors, **more}).encode()

    def glb(self, more: Mapping[str, Any]) -> bytes:
        """Return the document as GLB. Chunks are aligned to 4 bytes; JSON is padded with spaces (specification 4.4)."""
        text = self.json(more)
        text += b" " * (-len(text) % 4)
        chunks = struct.pack("<II", len(text), 0x4E4F534A) + text
        chunks += struct.pack("<II", len(self.buffer), 0x004E4942) + self.buffer
        return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def triangle(**primitive: Any) -> tuple[Document, dict[str, Any]]:
    document = Document()
    attributes = {
        "POSITION": document.array(POINTS, FLOAT, "VEC3"),
        "TEXCOORD_0": document.array(UVS, FLOAT, "VEC2"),
    }
    indices = document.array(np.array([0, 1, 2], np.uint16), USHORT, "SCALAR")
    return document, {"attributes": attributes, "indices": indices, **primitive}


def scene(primitives: list[dict[str, Any]], **node: Any) -> dict[str, Any]:
    return {"meshes": [{"primitives": primitives}], "nodes": [{"mesh": 0, **node}], "scenes": [{"nodes": [0]}]}


def nowhere(uri: str) -> bytes:
    """Refuse every URI. This is for reading a file that needs no other file."""
    raise AssertionError(uri)
