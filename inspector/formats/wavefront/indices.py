"""The corners of a block of face lines: every index as written, and fast."""

from __future__ import annotations

from inspector.formats.wavefront.face_table import NOT_GIVEN, FaceTable, join_tables
from inspector.formats.wavefront.indices_plain import read_lines
from inspector.formats.wavefront.indices_regular import read_regular
from inspector.formats.wavefront.pieces import SMALL, read_pieces

__all__ = ["NOT_GIVEN", "FaceTable", "read_faces"]


def read_faces(text: bytes, keyword: bytes = b"f") -> FaceTable:
    """The table of `text`: consecutive lines that begin, after optional blanks, with `keyword`.

    Lines end in \\n or \\r\\n, the last may lack it; blank lines are no statements. Problem kinds: bad-number,
    index-range, empty-slot, mixed-corners, short-face, n-gons, comment-behind-data.
    """
    if len(text) < SMALL:
        return read_lines(text)
    return join_tables(read_pieces(text, lambda piece: read_regular(piece, keyword), read_lines))
