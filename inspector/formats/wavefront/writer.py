"""Write a frame as OBJ. Unchanged blocks are copied byte for byte; changed blocks are written again."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from inspector.arrays import Floats
from inspector.errors import MeshqcError
from inspector.formats.frame import Block, Corners, Frame
from inspector.formats.wavefront.digit_words import count_words
from inspector.formats.wavefront.digits import format_faces, format_rows
from inspector.formats.wavefront.logical_text import block_spans, text_of
from inspector.formats.wavefront.statements import BLANK, BYTE_ORDER_MARK, COMMENT, FACE_STATEMENTS

Piece = bytes | memoryview

_NEWLINE = re.compile(rb"\r\n|\n|\r")
_POSITION = re.compile(rb"([ \t]*v[ \t]+)([^\s#]+)([ \t]+)([^\s#]+)([ \t]+)([^\s#]+)(.*)", re.DOTALL)
_DEFAULT_DECIMALS = 6  # for values that the source didn't have; most exporters write six (common practice, no source)


def write_frame(frame: Frame) -> bytes:
    """Write a frame as the bytes of a file. If nothing changed, the result is exactly the bytes that were read.

    Rewritten `v` lines keep the text after their third number. Rewritten `f` lines keep their comments, and their
    indices become positive. All rewritten lines with the keyword `vt` become one block, in place of the first `vt`
    block; the same applies to `vn` and `mtllib`. If there is no such block, `vt` and `vn` lines are inserted before the
    first face, and `mtllib` lines before the first statement. If `vt` or `vn` changed and any face has relative
    indices, all faces are rewritten.

    Raises:
        MeshqcError: The number of `v` lines to rewrite differs from the number of vertices, the number of `f` lines to
            rewrite differs from the number of faces, or a face to rewrite has an illegal vertex index.
    """
    if not frame.changed:
        return _encoded(frame.data, frame)
    whole = memoryview(frame.data)  # unchanged bytes are copied only once, into the file
    pieces: list[Piece] = [whole[start:stop] for start, stop in block_spans(frame.data, frame.blocks)]
    changed = frame.changed | ({b"f"} if recounts_faces(frame) else frozenset())
    if b"v" in changed:
        _form_positions(frame, pieces)
    if b"f" in changed:
        _form_faces(frame, pieces)
    for keyword, values in ((b"vn", frame.normals), (b"vt", frame.uvs)):
        if keyword in changed:
            rows = format_rows(keyword, values, decimals_of(frame, keyword), _newline_near(frame, keyword))
            _place(frame, pieces, keyword, rows, _first(frame, FACE_STATEMENTS))
    if b"mtllib" in changed:
        newline = _newline_near(frame, b"mtllib")
        lines = b"".join(b"mtllib " + library.name.raw + newline for library in frame.libraries)
        _place(frame, pieces, b"mtllib", lines, _first_statement(frame))
    return _encoded(b"".join(pieces), frame)


def decimals_of(frame: Frame, keyword: bytes) -> int:
    """Return the number of decimal places for writing changed values of a keyword.

    Args:
        frame: The frame.
        keyword: b"v", b"vt" or b"vn".
    """
    return frame.decimals.get(keyword, frame.source_decimals.get(keyword, 0) or _DEFAULT_DECIMALS)


def recounts_faces(frame: Frame) -> bool:
    """Return whether the faces must be rewritten although they are unchanged. This is the case if changed `vt` or `vn`
    lines are moved and any face has relative indices, which count back from the line of the face.
    """
    relative = any(problem.kind == "relative-index" for problem in frame.problems)
    return relative and bool(frame.changed & {b"vt", b"vn"}) and b"f" not in frame.changed


def _encoded(data: bytes, frame: Frame) -> bytes:
    return data if frame.encoding is None else data.decode("utf-8").encode(frame.encoding)


def _form_positions(frame: Frame, pieces: list[Piece]) -> None:
    text = text_of(frame)
    decimals, row = decimals_of(frame, b"v"), 0
    for number, block in enumerate(frame.blocks):
        if block.keyword != b"v":
            continue
        values = frame.positions[row : row + block.lines]
        lines = text[block.start : block.stop]
        newline = _newline_of(pieces[number])
        if b"#" not in lines and np.isfinite(values).all() and count_words(lines) == 4 * block.lines:
            formed = format_rows(b"v", values, decimals, newline)
        else:
            formed = _with_extras(lines, values, decimals, newline)
        pieces[number] = _ended_as(lines, formed, newline)
        row += block.lines
    if row != len(frame.positions):
        raise MeshqcError(
            f"the number of vertex lines ({row}) differs from the number of vertices ({len(frame.positions)})"
        )


def _with_extras(lines: bytes, values: Floats, decimals: int, newline: bytes) -> bytes:
    """Return the lines with their first three numbers replaced; an invalid number stays as written."""
    formed = []
    for line, row in zip(lines.split(b"\n"), values.tolist(), strict=False):
        match = _POSITION.fullmatch(line.removesuffix(b"\r"))
        if match is None:
            formed.append(line.removesuffix(b"\r"))
            continue
        parts = list(match.groups())
        for place, value in zip((1, 3, 5), row, strict=True):
            if np.isfinite(value):
                parts[place] = b"%.*f" % (decimals, value)
        formed.append(b"".join(parts))
    return b"".join(line + newline for line in formed)


def _form_faces(frame: Frame, pieces: list[Piece]) -> None:
    corners = frame.corners
    if (corners.v < 0).any():
        raise MeshqcError("a face with an illegal vertex index can't be rewritten")
    if sum(run.stop - run.start for run in frame.runs) != frame.faces:
        raise MeshqcError(f"the number of face lines differs from the number of faces ({frame.faces})")
    text = text_of(frame)
    for run in frame.runs:
        block = frame.blocks[run.block]
        newline = _newline_of(pieces[run.block])
        lines = text[block.start : block.stop]
        part = _faces(corners, run.start, run.stop)
        formed = format_faces(part.offsets, part.v, part.vt, part.vn, newline, block.keyword)
        if b"#" in lines:
            formed = _with_comments(lines, formed, newline)
        pieces[run.block] = _ended_as(lines, formed, newline)


def _faces(corners: Corners, start: int, stop: int) -> Corners:
    first, last = corners.offsets[start], corners.offsets[stop]
    offsets = corners.offsets[start : stop + 1] - first
    return Corners(offsets, corners.v[first:last], corners.vt[first:last], corners.vn[first:last])


def _with_comments(lines: bytes, formed: bytes, newline: bytes) -> bytes:
    comments = [line.removesuffix(b"\r").partition(b"#")[1:] for line in lines.split(b"\n")]
    new = formed.split(newline)[:-1]
    return b"".join(
        line + (b" #" + text if mark else b"") + newline for line, (mark, text) in zip(new, comments, strict=False)
    )


def _place(frame: Frame, pieces: list[Piece], keyword: bytes, lines: bytes, before: int) -> None:
    """Replace the keyword's first block with `lines`, and drop the keyword's other blocks. If the keyword has no block,
    insert `lines` before the block with index `before`.
    """
    own = [number for number, block in enumerate(frame.blocks) if block.keyword == keyword]
    for number in own:
        pieces[number] = b""
    if own:
        pieces[own[0]] = lines
    elif before < len(pieces):
        pieces[before] = b"".join((lines, pieces[before]))
    else:
        pieces.append(lines if bytes(pieces[-1][-1:]) in (b"\n", b"\r") else _newline_of(frame.data) + lines)


def _first(frame: Frame, keywords: frozenset[bytes]) -> int:
    found = (number for number, block in enumerate(frame.blocks) if block.keyword in keywords)
    return next(found, len(frame.blocks))


def _first_statement(frame: Frame) -> int:
    head = {BLANK, COMMENT, BYTE_ORDER_MARK}
    return next((number for number, block in enumerate(frame.blocks) if block.keyword not in head), len(frame.blocks))


def _newline_of(data: Piece) -> bytes:
    match = _NEWLINE.search(data)
    return match.group() if match else b"\n"


def _newline_near(frame: Frame, keyword: bytes) -> bytes:
    """Return the line ending of the keyword's first block or, if there is none, the first line ending of the file."""
    own = _own(frame.blocks, keyword)
    return _newline_of(frame.data[own.start : own.stop] if own else frame.data)


def _own(blocks: Sequence[Block], keyword: bytes) -> Block | None:
    return next((block for block in blocks if block.keyword == keyword), None)


def _ended_as(lines: bytes, formed: bytes, newline: bytes) -> bytes:
    """Return the rewritten lines. The last line gets a line ending only if the last original line has one."""
    return formed if lines.endswith(b"\n") else formed.removesuffix(newline)
