"""Numbers and corners out: arrays to lines of text."""

from __future__ import annotations

import numpy as np

from inspector.formats.frame import FloatArray, IndexArray, OffsetArray


def format_rows(keyword: bytes, values: FloatArray, decimals: int, newline: bytes = b"\n") -> bytes:
    """Lines `keyword x y z` from values (n, c) float64, each number rounded as Python's '%.*f' does."""
    row: bytes = keyword + b" %%.%df" % decimals * values.shape[1] + newline
    lines: bytes = row * len(values) % tuple(values.ravel().tolist())
    return lines


def format_faces(  # noqa: PLR0917 - the four arrays are one value, Corners
    offsets: OffsetArray,
    v: IndexArray,
    vt: IndexArray,
    vn: IndexArray,
    newline: bytes = b"\n",
    keyword: bytes = b"f",
) -> bytes:
    """Lines `keyword 1/1/1 2/2/2 ...` from indices (c,) int32 counted from 0, -1 = absent.

    offsets (f + 1,) int64. The form (v, v/vt, v//vn, v/vt/vn) is each corner's own.
    """
    forms = np.array([b"%d", b"%d/%d", b"%d//%d", b"%d/%d/%d"], object)
    has_vt, has_vn = vt >= 0, vn >= 0
    corners = forms[has_vt + 2 * has_vn].tolist()
    lines = [
        b" ".join([keyword, *corners[start:stop]]) + newline
        for start, stop in zip(offsets[:-1].tolist(), offsets[1:].tolist(), strict=True)
    ]
    slots = np.column_stack([v, vt, vn]).astype(np.int64) + 1
    given = np.column_stack([np.ones_like(has_vt), has_vt, has_vn])
    return b"".join(lines) % tuple(slots[given].tolist())
