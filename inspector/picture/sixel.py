"""Encode pictures as Sixel (DEC's VT330/VT340 Programmer Reference Manual, volume 2, chapter 14)."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from inspector.picture.canvas import Picture

COLOURS = 256
"""Maximum number of colours in a picture. A VT340 has 16 registers for colours, and xterm has 256 (both numbers are
recalled from memory, without a source)."""

_LEVELS = 63
"""Highest level of each channel. Finer steps are hardly visible, and each colour adds a line of characters."""

_BAND = 6  # rows of pixels in a character; the lowest bit is the top row
_FIRST = 63  # code of the character that draws no pixel
_SHORTEST_RUN = 4  # minimum number of equal characters for a repeat such as `!4?` that isn't longer


def sixel(picture: Picture) -> str:
    """Encode a picture as an escape sequence, from DCS to ST.

    Args:
        picture: The picture, (h, w, 3). More than COLOURS colours are reduced to COLOURS.
    """
    indices, palette = _indexed(picture)
    height, width = indices.shape
    header = f'\x1bP0;1;0q"1;1;{width};{height}'  # 1: pixels that are not drawn don't change
    colours = "".join(
        f"#{register};2;{';'.join(map(str, percent))}"
        for register, percent in enumerate(((palette.astype(int) * 100 + 127) // 255).tolist())
    )
    return f"{header}{colours}{''.join(_characters(indices))}\x1b\\"


def _indexed(picture: Picture) -> tuple[npt.NDArray[np.uint8], npt.NDArray[np.uint8]]:
    """Reduce a picture to COLOURS colours. Return the index of each pixel's colour, (h, w), and the colours, (n, 3)."""
    from PIL import Image

    red, green, blue = np.moveaxis((picture.astype(np.int32) * _LEVELS + 127) // 255, 2, 0)
    colours, indices = np.unique(red << 16 | green << 8 | blue, return_inverse=True)
    if len(colours) <= COLOURS:
        levels = np.stack([colours >> 16, colours >> 8 & 255, colours & 255], axis=1)
        return indices.reshape(picture.shape[:2]).astype(np.uint8), (levels * 255 // _LEVELS).astype(np.uint8)
    reduced = Image.fromarray(picture).quantize(COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    return np.asarray(reduced), np.array(reduced.getpalette(), np.uint8).reshape(-1, 3)


def _characters(indices: npt.NDArray[np.uint8]) -> Iterator[str]:
    """Yield the characters band by band and, in each band, colour by colour. Runs of equal characters are shortened."""
    height, width = indices.shape
    row = np.arange(height)[:, None]
    # One number for the band, colour and column of each pixel. Pixels with equal numbers share a character.
    keys = (row // _BAND * COLOURS + indices) * np.int64(width) + np.arange(width)
    order = np.argsort(keys, axis=None, kind="stable")
    keys = keys.ravel()[order]
    starts = np.flatnonzero(np.diff(keys, prepend=-1))
    bits = np.broadcast_to(1 << row % _BAND, indices.shape).ravel()[order]
    values, keys = np.add.reduceat(bits, starts), keys[starts]
    lines, columns = np.divmod(keys, width)
    fresh = np.diff(lines, prepend=-1) != 0
    begins = np.flatnonzero(fresh | (np.diff(columns, prepend=-1) != 1) | (np.diff(values, prepend=-1) != 0))
    lengths = np.diff(begins, append=len(keys))
    first = fresh[begins]
    ends = np.concatenate([[0], (columns[begins] + lengths)[:-1]])
    gaps = columns[begins] - np.where(first, 0, ends)
    band = 0
    columns_of_runs = (lines[begins], first, gaps, lengths, values[begins])
    runs = zip(*(one.tolist() for one in columns_of_runs), strict=True)
    for line, is_first, gap, length, value in runs:
        if is_first:
            below, colour = divmod(line, COLOURS)
            yield f"-#{colour}" if below > band else f"$#{colour}"
            band = below
        if gap:
            yield _repeated(gap, 0)
        yield _repeated(length, value)


@lru_cache(maxsize=4096)
def _repeated(count: int, value: int) -> str:
    letter = chr(_FIRST + value)
    return f"!{count}{letter}" if count >= _SHORTEST_RUN else letter * count
