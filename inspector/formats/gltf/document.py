"""The document and the buffers of a glTF file. Every value is checked before it is used.

Source: Khronos, glTF 2.0 specification: 3.6 (buffers), 3.12 (extensions), 4 (GLB).
"""

from __future__ import annotations

import base64
import binascii
import json
import struct
from collections.abc import Mapping
from typing import Any, TypeVar
from urllib.parse import unquote

from inspector.formats.format import Beside
from inspector.formats.problems import UnreadableFrame
from inspector.names import counted

Document = dict[str, Any]
Value = TypeVar("Value")

MAGIC = b"glTF"
_JSON_CHUNK, _BINARY_CHUNK = 0x4E4F534A, 0x004E4942

_CODED: Mapping[str, str] = {
    "KHR_draco_mesh_compression": "compressed meshes",
    "KHR_meshopt_compression": "compressed buffers",
    "EXT_meshopt_compression": "compressed buffers",
}
"""Unsupported extensions without which the geometry can't be read, and the content that each one encodes."""

_KINDS: Mapping[type, str] = {dict: "an object", list: "a list", int: "a whole number", float: "a number", str: "text"}


def broken(reason: str) -> UnreadableFrame:
    """Make the error for a file that breaks the specification."""
    return UnreadableFrame("broken-form", reason=reason)


def value(owner: Document, key: str, kind: type[Value], default: Value) -> Value:
    """Return the value of a key in an object.

    Args:
        owner: The object.
        key: The key.
        kind: The type that the value must have. Whole numbers count as floats; true and false are not numbers.
        default: The value if the key is missing.

    Raises:
        UnreadableFrame: The value has a different type.
    """
    found = owner.get(key, default)
    wanted = (int, float) if kind is float else kind
    if not isinstance(found, wanted) or isinstance(found, bool) is not isinstance(default, bool):
        raise broken(f"`{key}` is not {_KINDS.get(kind, 'true or false')}")
    return found  # type: ignore[return-value]


def numbers(owner: Document, key: str, default: tuple[float, ...]) -> tuple[float, ...]:
    """Return a list of numbers from an object.

    Args:
        owner: The object.
        key: The key of the list.
        default: The numbers to return if the key is missing. A list in the object must have the same length.

    Raises:
        UnreadableFrame: The value is not a list of numbers, or its length is wrong.
    """
    found = value(owner, key, list, list(default))
    if len(found) != len(default) or not all(type(one) in (int, float) for one in found):
        raise broken(f"`{key}` is not a list of {len(default)} numbers")
    return tuple(map(float, found))


def entries(owner: Document, key: str) -> list[Document]:
    """Return the list of objects at a key of `owner`; empty if the key is missing.

    Raises:
        UnreadableFrame: The value is not a list of objects.
    """
    found = value(owner, key, list, [])
    if not all(isinstance(one, dict) for one in found):
        raise broken(f"`{key}` contains an item that is not an object")
    return found


def entry(document: Document, key: str, number: object) -> Document:
    """Return an object from one of the document's lists.

    Args:
        document: The document.
        key: The key of the list, such as "nodes".
        number: Index in the list: a value of any type, as read from the document.

    Raises:
        UnreadableFrame: The index is not a whole number, or there is no such object.
    """
    found = value(document, key, list, [])
    if type(number) is not int:
        raise broken(f"a reference to an item of `{key}` is not a whole number")
    if not 0 <= number < len(found):
        raise broken(
            f"a reference points to item {number} of `{key}`, which has {counted(len(found), 'item')} (numbered from 0)"
        )
    if not isinstance(found[number], dict):
        raise broken(f"item {number} of `{key}` is not an object")
    one: Document = found[number]
    return one


def whole_numbers(owner: Document, key: str) -> list[int]:
    """Return the list of whole numbers at a key of `owner`; empty if the key is missing.

    Raises:
        UnreadableFrame: The value is not a list of whole numbers.
    """
    found = value(owner, key, list, [])
    if not all(type(one) is int for one in found):
        raise broken(f"`{key}` is not a list of whole numbers")
    return found


def extension(owner: Document, name: str) -> Document | None:
    """Return the data that an extension adds to an object; None if the object doesn't use the extension.

    Raises:
        UnreadableFrame: The data is not an object.
    """
    extensions = value(owner, "extensions", dict, {})
    return value(extensions, name, dict, {}) if name in extensions else None


def open_document(data: bytes) -> tuple[Document, bytes]:
    """Read a .glb or .gltf file.

    Returns:
        The JSON document, and the binary chunk (b"" if there is none).

    Raises:
        UnreadableFrame: The file is damaged, or its version or an extension that it requires is not supported.
    """
    text, binary = _chunks(data) if data.startswith(MAGIC) else (data, b"")
    try:
        document = json.loads(text)
    except (ValueError, RecursionError) as error:
        where = (
            f"line {error.lineno}"
            if isinstance(error, json.JSONDecodeError)
            else "it is not valid text, or is nested too deeply"
        )
        raise broken(f"the JSON can't be read ({where})") from error
    if not isinstance(document, dict):
        raise broken("the top level of the JSON is not an object")
    version = str(value(document, "asset", dict, {}).get("version", ""))
    if not version.startswith("2."):
        stated = f"glTF version {version}" if version else "the glTF version is not stated"
        raise UnreadableFrame("not-supported", reason=f"{stated}; only version 2 is supported")
    for name in required(document):
        if name in _CODED:
            raise UnreadableFrame("not-supported", reason=f"{_CODED[name]} ({name})")
    return document, binary


def required(document: Document) -> list[str]:
    return [str(name) for name in value(document, "extensionsRequired", list, [])]


def _chunks(data: bytes) -> tuple[bytes, bytes]:
    """Return the first JSON chunk and the first binary chunk of a GLB file (glTF 2.0, 4.4).

    The binary chunk is b"" if the file has none.

    Raises:
        UnreadableFrame: The file is cut off, its version is not supported, or it has no JSON chunk.
    """
    if len(data) < 12:
        raise UnreadableFrame("too-short")
    _, version, length = struct.unpack_from("<4sII", data)
    if version != 2:
        raise UnreadableFrame("not-supported", reason=f"GLB version {version}; only version 2 is supported")
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
        raise broken("the file has no JSON chunk")
    return found[_JSON_CHUNK], found.get(_BINARY_CHUNK, b"")


class Buffers:
    """The contents of a document's buffers. Separate files are read when they are needed."""

    def __init__(self, document: Document, binary: bytes, beside: Beside) -> None:
        self._document, self._binary, self._beside = document, binary, beside
        self._whole: dict[int, bytes] = {}

    def view(self, number: object) -> tuple[bytes, int]:
        """Return the bytes of a buffer view, and its stride in bytes. The stride is 0 if there are no gaps between
        elements.

        Raises:
            UnreadableFrame: The buffer view is damaged, or its buffer can't be read.
        """
        view = entry(self._document, "bufferViews", number)
        buffer = self._buffer(view.get("buffer"))
        start, length = value(view, "byteOffset", int, 0), value(view, "byteLength", int, -1)
        stride = value(view, "byteStride", int, 0)
        if start < 0 or length < 0 or stride < 0:
            raise broken(f"buffer view {number} has no length, or a negative length, offset or stride")
        if start + length > len(buffer):
            raise UnreadableFrame("too-short", reason=f"buffer view {number} extends beyond the end of its buffer")
        return buffer[start : start + length], stride

    def _buffer(self, number: object) -> bytes:
        buffer = entry(self._document, "buffers", number)
        assert isinstance(number, int)
        if number not in self._whole:
            self._whole[number] = self._content(number, buffer)
        return self._whole[number]

    def _content(self, number: int, buffer: Document) -> bytes:
        length = value(buffer, "byteLength", int, -1)
        if length < 0:
            raise broken(f"buffer {number} has no valid length")
        uri = value(buffer, "uri", str, "")
        content = self._binary if not uri and number == 0 else b""
        if uri:
            inside = data_of(uri)
            content = self._beside(unquote(uri)) if inside is None else inside
        if len(content) < length:
            raise UnreadableFrame(
                "too-short", reason=f"buffer {number} contains only {len(content):,} of {length:,} bytes"
            )
        return content


def data_of(uri: str) -> bytes | None:
    """Return the content of a data URI (RFC 2397); None for any other URI.

    Raises:
        UnreadableFrame: The content is not valid base64.
    """
    if not uri.startswith("data:"):
        return None
    try:
        return base64.b64decode(uri.partition(",")[2], validate=True)
    except (binascii.Error, ValueError) as error:
        raise broken("the content of a data URI is not valid base64") from error
