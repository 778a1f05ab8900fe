"""Read the corners of a block of face lines. Every index is kept as written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from inspector import _native
from inspector.formats.problems import Place, Problem
from inspector.formats.wavefront.face_table import NOT_GIVEN, FaceTable, Slots, face_table, join_tables
from inspector.formats.wavefront.indices_plain import MANY_CORNERS, read_lines
from inspector.formats.wavefront.indices_regular import read_regular
from inspector.formats.wavefront.pieces import SMALL, Span, read_pieces, read_runs

LONG_FACE = 1 << 14
"""Length of a line, in bytes, above which reading whole arrays is faster than reading corner by corner."""

__all__ = ["NOT_GIVEN", "FaceTable", "read_faces"]


def read_faces(text: Span, keyword: bytes = b"f") -> FaceTable:
    r"""Read consecutive face lines, which end in \n or \r\n; the last line need not have a line ending.

    Blank lines are ignored. Problem kinds: bad-number, index-range, empty-index, mixed-corners, degenerate-face,
    n-gons, trailing-comment.

    Args:
        text: The lines.
        keyword: First word of each line, after optional white space.

    Raises:
        LongLine: A line is longer than LINE_BYTES.
    """
    if len(text) < SMALL:
        return read_lines(bytes(text))
    if _native.active:
        return join_tables(_native_runs(text, keyword))
    return join_tables(
        read_pieces(bytes(text), lambda piece: read_regular(piece, keyword), lambda piece: _slow(piece, keyword))
    )


def _native_runs(text: Span, keyword: bytes) -> Iterator[tuple[FaceTable, int]]:
    lines, blanks = _native.core.count_bytes(text, 0)  # each corner follows a blank, so corners <= blanks

    def fast(start: int) -> tuple[FaceTable | None, int, int]:
        run = _native.read_faces(text, start, keyword, MANY_CORNERS.value, (lines + 1, blanks))
        faces = len(run.offsets) - 1
        if not faces:
            return None, 0, start
        none: Slots = np.broadcast_to(np.int64(NOT_GIVEN), run.v.shape)
        vt, vn = (none if slot is None else slot for slot in (run.vt, run.vn))
        return face_table(run.offsets, run.v, vt, vn), faces, run.stop

    return read_runs(text, fast, lambda piece: _slow(piece, keyword))


def _slow(piece: bytes, keyword: bytes) -> FaceTable:
    """Read a piece of any form. A piece that is one long regular face is read with array operations; any other piece is
    read line by line.
    """
    if len(piece) > LONG_FACE and piece.find(b"\n") == len(piece) - 1:
        table = read_regular(piece, keyword, np.inf)
        if table is not None and len(table.v) > MANY_CORNERS.value:
            return replace(table, problems=(Problem("n-gons", 1, (Place(0, 0),)),))
    return read_lines(piece)
