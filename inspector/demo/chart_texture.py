"""The demo's textures: coloured cells, each with a glyph; an arrow that points up; and the name of the subject.

No rotation or reflection maps a glyph onto itself, so the glyphs show whether a texture is rotated, mirrored, shifted
or stretched.
"""

from __future__ import annotations

import struct
import zlib

import numpy as np
import numpy.typing as npt

Indexed = npt.NDArray[np.uint8]
"""Pixels, (height, width): indices of colours in PALETTE."""

CELL = 40
"""Side of a cell, in pixels."""
_ENLARGED = 3

_DARK, _ARROW, _LINE, _PLATE, _WORD, _FIRST_CELL = range(6)
PALETTE = np.array(
    [
        *([24, 24, 28], [250, 250, 250], [40, 62, 78], [10, 24, 44], [255, 214, 64]),
        *([34, 92, 148], [70, 130, 188], [26, 122, 138], [62, 160, 176]),
        *([60, 138, 108], [100, 178, 148], [168, 128, 88], [208, 170, 128]),
    ],
    np.uint8,
)
"""Colours, (n, 3): glyph, arrow, line between cells, background of the name, name; then a darker and a lighter colour
for the cells of each of four rows. The rows differ in lightness and on the blue-yellow axis, for colour-blind
people."""

# Each glyph is five pixels wide and seven high. No glyph equals its mirror image or itself turned by 180 degrees.
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

_LETTERS = {
    "A": (".###.", "#...#", "#...#", "#####", "#...#", "#...#", "#...#"),
    "E": ("#####", "#....", "#....", "####.", "#....", "#....", "#####"),
    "K": ("#...#", "#..#.", "#.#..", "##...", "#.#..", "#..#.", "#...#"),
    "L": ("#....", "#....", "#....", "#....", "#....", "#....", "#####"),
    "M": ("#...#", "##.##", "#.#.#", "#.#.#", "#...#", "#...#", "#...#"),
    "N": ("#...#", "##..#", "#.#.#", "#.#.#", "#..##", "#...#", "#...#"),
    "P": ("####.", "#...#", "#...#", "####.", "#....", "#....", "#...."),
    "T": ("#####", "..#..", "..#..", "..#..", "..#..", "..#..", "..#.."),
}


def chart(columns: int, rows: int, arrow: int) -> Indexed:
    """Draw a texture of cells with glyphs, and an arrow that points up.

    Args:
        columns: Number of columns of cells.
        rows: Number of rows of cells.
        arrow: Index of the column to the right of the arrow.

    Returns:
        The texture, (rows * CELL, columns * CELL), with the top row first.
    """
    picture = np.zeros((rows * CELL, columns * CELL), np.uint8)
    for row in range(rows):
        for column in range(columns):
            cell = picture[row * CELL : (row + 1) * CELL, column * CELL : (column + 1) * CELL]
            cell[:] = _FIRST_CELL + 2 * (row % 4) + (row + column) % 2
            cell[-1, :] = cell[:, -1] = _LINE
            _place_glyph(cell, _GLYPHS[(column + 5 * row) % len(_GLYPHS)])
    _place_arrow(picture, axis=arrow * CELL)
    return picture


def label(width: int, height: int) -> Indexed:
    """Draw a pale label for lettering, with a border of two dark lines.

    Args:
        width: Width, in pixels.
        height: Height, in pixels.
    """
    picture = np.full((height, width), _ARROW, np.uint8)
    for inset, thick in ((6, 4), (14, 1)):
        rim = np.ones((height - 2 * inset, width - 2 * inset), bool)
        rim[thick:-thick, thick:-thick] = False
        picture[inset : height - inset, inset : width - inset][rim] = _PLATE
    return picture


def write_word(picture: Indexed, word: str, middle: tuple[int, int], scale: int, *, turned: bool = False) -> None:
    """Write a word into a texture, on a dark rectangle.

    Args:
        picture: The texture, which is changed.
        word: The word, in letters of _LETTERS.
        middle: Row and column of the word's centre, in pixels.
        scale: Side of a dot, in pixels. A letter is five dots wide and seven high.
        turned: Whether the word is upside down.
    """
    dots = np.concatenate(
        [np.array([[dot == "#" for dot in f".{line}"] for line in _LETTERS[letter]]) for letter in word], axis=1
    )
    dots = np.pad(dots, ((1, 1), (0, 1))).repeat(scale, axis=0).repeat(scale, axis=1)
    top, left = (place - size // 2 for place, size in zip(middle, dots.shape, strict=True))
    plate = picture[top : top + dots.shape[0], left : left + dots.shape[1]]
    plate[:] = np.where(dots[::-1, ::-1] if turned else dots, _WORD, _PLATE)


def _place_glyph(cell: Indexed, glyph: tuple[str, ...]) -> None:
    dots = np.array([[dot == "#" for dot in line] for line in glyph])
    large = dots.repeat(_ENLARGED, axis=0).repeat(_ENLARGED, axis=1)
    top, left = (CELL - large.shape[0]) // 2, (CELL - large.shape[1]) // 2
    cell[top : top + large.shape[0], left : left + large.shape[1]][large] = _DARK


def _place_arrow(picture: Indexed, axis: int) -> None:
    """Draw the arrow, with a tenth of the picture's height free above and below it."""
    height = picture.shape[0]
    tip, foot = height // 10, height - height // 10
    for line in range(tip, foot):
        half = (line - tip) // 3 + 1 if line < tip + 33 else 4
        picture[line, axis - half : axis + half] = _ARROW


def png_bytes(picture: Indexed) -> bytes:
    """Write a texture as an indexed PNG (ISO/IEC 15948, colour type 3, eight bits).

    The pixels are stored without compression (RFC 1951, 3.2.4), because the output of compression depends on the
    version of zlib.
    """
    height, width = picture.shape
    raw = np.concatenate([np.zeros((height, 1), np.uint8), picture], axis=1).tobytes()  # filter type 0 on each row
    header = struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)
    chunks = (
        _chunk(b"IHDR", header),
        _chunk(b"PLTE", PALETTE.tobytes()),
        _chunk(b"IDAT", _stored(raw)),
        _chunk(b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _stored(raw: bytes) -> bytes:
    """Write a zlib stream (RFC 1950) of stored blocks, each of at most 65,535 bytes."""
    size = 0xFFFF
    pieces = [raw[start : start + size] for start in range(0, len(raw), size)]
    blocks = [
        struct.pack("<BHH", number == len(pieces) - 1, len(piece), len(piece) ^ 0xFFFF) + piece
        for number, piece in enumerate(pieces)
    ]
    return b"\x78\x01" + b"".join(blocks) + struct.pack(">I", zlib.adler32(raw))
