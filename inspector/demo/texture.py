"""The demo's pictures: grey cells with a glyph in each that no turn or mirror maps onto itself, and an arrow up.

So a picture that is turned, mirrored, shifted or stretched on the mesh can be seen for what it is.
"""

from __future__ import annotations

import struct
import zlib

import numpy as np
import numpy.typing as npt

Grey = npt.NDArray[np.uint8]

CELL = 40
"""Pixels along a cell's side."""
_ENLARGED = 3
_DARK, _ARROW, _LINE = 24, 250, 60

# Five pixels wide and seven high. All are unlike their own mirror images and half turns.
_GLYPHS = (
    ("#####", "#....", "####.", "#....", "#....", "#....", "#...."),  # F
    (".###.", "#...#", "#....", "#.###", "#...#", "#...#", ".###."),  # G
    ("..###", "...#.", "...#.", "...#.", "...#.", "#..#.", ".##.."),  # J
    ("#....", "#....", "#....", "#....", "#....", "#....", "#####"),  # L
    ("####.", "#...#", "#...#", "####.", "#....", "#....", "#...."),  # P
    (".###.", "#...#", "#...#", "#...#", "#.#.#", "#..#.", ".##.#"),  # Q
    ("####.", "#...#", "#...#", "####.", "#.#..", "#..#.", "#...#"),  # R
    (".###.", "#...#", "....#", "..##.", ".#...", "#....", "#####"),  # 2
    ("...#.", "..##.", ".#.#.", "#..#.", "#####", "...#.", "...#."),  # 4
    ("#####", "#....", "####.", "....#", "....#", "#...#", ".###."),  # 5
    ("#####", "....#", "...#.", "..#..", ".#...", ".#...", ".#..."),  # 7
)


def chart(columns: int, rows: int, arrow: int) -> Grey:
    """The picture (rows * CELL, columns * CELL), first row on top: cells, glyphs, and one arrow up.

    The arrow stands between the cell columns `arrow` - 1 and `arrow`, so that it hides no glyph.
    """
    picture = np.zeros((rows * CELL, columns * CELL), np.uint8)
    for row in range(rows):
        for column in range(columns):
            cell = picture[row * CELL : (row + 1) * CELL, column * CELL : (column + 1) * CELL]
            cell[:] = 120 + 14 * (row % 4) + 36 * ((row + column) % 2)
            cell[-1, :] = cell[:, -1] = _LINE
            _place_glyph(cell, _GLYPHS[(column + 5 * row) % len(_GLYPHS)])
    _place_arrow(picture, axis=arrow * CELL)
    return picture


def _place_glyph(cell: Grey, glyph: tuple[str, ...]) -> None:
    dots = np.array([[dot == "#" for dot in line] for line in glyph])
    large = dots.repeat(_ENLARGED, axis=0).repeat(_ENLARGED, axis=1)
    top, left = (CELL - large.shape[0]) // 2, (CELL - large.shape[1]) // 2
    cell[top : top + large.shape[0], left : left + large.shape[1]][large] = _DARK


def _place_arrow(picture: Grey, axis: int) -> None:
    """From a tenth above the picture's foot to a tenth below its top; the head widens downward from the tip."""
    height = picture.shape[0]
    tip, foot = height // 10, height - height // 10
    for line in range(tip, foot):
        half = (line - tip) // 3 + 1 if line < tip + 33 else 4
        picture[line, axis - half : axis + half] = _ARROW


def png_bytes(picture: Grey) -> bytes:
    """An 8-bit greyscale PNG (ISO/IEC 15948) of a picture (height, width) uint8, first row on top.

    The pixels are stored, not compressed: a compressor's output changes with the zlib that Python was built with,
    and the demo's bytes must be the same everywhere. Stored blocks (RFC 1951, 3.2.4) leave it no choice.
    """
    height, width = picture.shape
    raw = np.concatenate([np.zeros((height, 1), np.uint8), picture], axis=1).tobytes()  # filter type 0 on each row
    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    chunks = (_chunk(b"IHDR", header), _chunk(b"IDAT", _stored(raw)), _chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _stored(raw: bytes) -> bytes:
    """A zlib stream (RFC 1950) of stored blocks, each at most 65,535 bytes long."""
    size = 0xFFFF
    pieces = [raw[start : start + size] for start in range(0, len(raw), size)]
    blocks = [
        struct.pack("<BHH", number == len(pieces) - 1, len(piece), len(piece) ^ 0xFFFF) + piece
        for number, piece in enumerate(pieces)
    ]
    return b"\x78\x01" + b"".join(blocks) + struct.pack(">I", zlib.adler32(raw))
