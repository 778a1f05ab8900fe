"""The corners of a block of face lines: every index as written, and fast."""

from __future__ import annotations

from inspector.formats.wavefront.face_table import NOT_GIVEN, FaceTable, join_tables
from inspector.formats.wavefront.indices_plain import read_lines
from inspector.formats.wavefront.indices_regular import read_regular
from inspector.formats.wavefront.pieces import cut_pieces

__all__ = ["NOT_GIVEN", "FaceTable", "read_faces"]

_PIECE = 1 << 18
"""Bytes worked on at once: its arrays stay in the processor's cache, and the cost of each call is spread."""
_SMALL = 1 << 9
"""Bytes below which the setting up of whole arrays costs more than reading line by line."""


def read_faces(text: bytes, keyword: bytes = b"f") -> FaceTable:
    """The table of `text`: consecutive lines that begin, after optional blanks, with `keyword`.

    Lines end in \\n or \\r\\n, the last may lack it; blank lines are no statements. Problem kinds: bad-number,
    index-range, empty-slot, mixed-corners, short-face, many-corners, comment-behind-data.
    """
    if len(text) < _SMALL:
        return read_lines(text)
    tables, lines = [], []
    for piece in cut_pieces(text, _PIECE):
        table = read_regular(piece, keyword)
        tables.append(read_lines(piece) if table is None else table)
        lines.append(piece.count(b"\n"))
    return join_tables(tables, lines)
