"""Reading accessors of a glTF document as arrays. Source: Khronos, glTF 2.0 specification: 3.6.2, 3.11, 5.1."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.formats.gltf.document import Buffers, Document, broken, entry, value
from inspector.formats.problems import UnreadableFrame
from inspector.names import counted

Array = npt.NDArray[Any]

_COMPONENTS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT4": 16}
"""Number of components per element, by the element's type. MAT2 and MAT3 are left out, because no attribute uses
them."""

_MOST_WITHOUT_DATA = 10_000_000
"""Maximum number of elements in an accessor without data. Without a limit, a few bytes could declare billions of
zeros."""


class Accessors:
    """Reads the accessors of a document."""

    def __init__(self, document: Document, buffers: Buffers) -> None:
        self._document, self._buffers = document, buffers

    def whole(self, number: object) -> Array:
        """Read an accessor of indices, (n,), in the unsigned type in which they are stored.

        Raises:
            UnreadableFrame: The accessor is damaged, or contains something other than indices.
        """
        rows = self._rows(number)
        if rows.dtype.kind != "u" or rows.shape[1] != 1:
            raise broken(f"accessor {number} is used for indices, but doesn't have one unsigned integer per element")
        return rows[:, 0]

    def floats(self, number: object, *widths: int) -> Array:
        """Read the elements of an accessor as rows of floats.

        Normalised whole numbers become fractions (glTF 2.0, 3.11).

        Args:
            number: Index of the accessor.
            widths: The allowed numbers of components per element.

        Returns:
            The rows, (n, w), where w is one of `widths`. The rows are float64 if the elements are stored as whole
            numbers; otherwise, the rows are float32.

        Raises:
            UnreadableFrame: The accessor is damaged, or its elements have a different number of components.
        """
        rows = self._rows(number)
        if rows.shape[1] not in widths:
            allowed = " or ".join(map(str, widths))
            raise broken(f"accessor {number} has {counted(rows.shape[1], 'number')} per element instead of {allowed}")
        if rows.dtype.kind == "f":
            return rows
        normalized = value(entry(self._document, "accessors", number), "normalized", bool, False)
        numbers = rows.astype(np.float64)
        return np.maximum(numbers / np.iinfo(rows.dtype).max, -1.0) if normalized else numbers

    def _rows(self, number: object) -> Array:
        accessor = entry(self._document, "accessors", number)
        count = value(accessor, "count", int, -1)
        width = _WIDTHS.get(value(accessor, "type", str, ""))
        kind = _COMPONENTS.get(value(accessor, "componentType", int, 0))
        if count < 0 or width is None or kind is None:
            raise broken(f"accessor {number} has a missing or invalid count, type or component type")
        dtype = np.dtype(kind)
        if "bufferView" in accessor:
            offset = value(accessor, "byteOffset", int, 0)
            rows = self._strided(accessor["bufferView"], offset, count, width, dtype, f"accessor {number}")
        elif count > _MOST_WITHOUT_DATA:
            raise UnreadableFrame(
                "not-supported",
                reason=f"accessor {number} has {counted(count, 'element')} without data, which is too many",
            )
        else:
            rows = np.zeros((count, width), dtype)
        sparse = value(accessor, "sparse", dict, {})
        return self._replaced(rows, sparse, number) if sparse else rows

    def _replaced(self, rows: Array, sparse: Document, number: object) -> Array:
        """Apply the replacements of a sparse accessor to a copy of the rows, and return the copy (glTF 2.0, 3.6.2.3).

        Raises:
            UnreadableFrame: The sparse accessor is damaged.
        """
        count, what = value(sparse, "count", int, 0), f"sparse accessor {number}"
        where, values = value(sparse, "indices", dict, {}), value(sparse, "values", dict, {})
        kind = _COMPONENTS.get(value(where, "componentType", int, 0), "")
        if not kind.startswith("<u"):
            raise broken(f"{what} has indices that are not unsigned integers")
        offset = value(where, "byteOffset", int, 0)
        at = self._strided(where.get("bufferView"), offset, count, 1, np.dtype(kind), what)[:, 0]
        offset = value(values, "byteOffset", int, 0)
        given = self._strided(values.get("bufferView"), offset, count, rows.shape[1], rows.dtype, what)
        if len(at) and int(at.max()) >= len(rows):
            raise broken(f"{what} has an index beyond its {counted(len(rows), 'element')}")
        fresh = rows.copy()
        fresh[at] = given
        return fresh

    def _strided(self, view: object, offset: int, count: int, width: int, dtype: np.dtype[Any], what: str) -> Array:
        data, stride = self._buffers.view(view)
        size = width * dtype.itemsize
        stride = stride or size
        if offset < 0 or stride < size:
            raise broken(f"the elements of {what} overlap, or begin before their buffer view")
        if count < 0 or (count and offset + stride * (count - 1) + size > len(data)):
            raise UnreadableFrame("too-short", reason=f"{what} extends beyond the end of its buffer view")
        if not count:
            return np.zeros((0, width), dtype)
        rows = np.ndarray((count, width), dtype, data, offset, (stride, dtype.itemsize))
        return np.ascontiguousarray(rows)
