"""Convert pictures to cells: blocks in the terminal's colours, Braille dots, or plain letters."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from inspector.arrays import Floats
from inspector.picture.canvas import GROUND, Picture, smaller
from inspector.tui.pictures.colours import Depth, palette_of, thresholds
from inspector.tui.styles import PLAIN

Letters = npt.NDArray[np.uint32]
"""Code points of characters, one per cell."""

_HALVES = np.array([ord(one) for one in " ▀▄█"], np.uint32)
_RAMP = np.array([ord(one) for one in " .:-=+*%#@"], np.uint32)
"""Characters in ascending order of the amount of ink that they put into a cell."""

_QUADRANTS = np.array([ord(one) for one in " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"], np.uint32)
"""Characters for all combinations of filled quarters. The index is the sum of the values of the filled quarters: 1
for the upper left, 2 for the upper right, 4 for the lower left, 8 for the lower right (The Unicode Standard, code chart
"Block Elements")."""

_SEXTANTS = np.array(
    [ord(" "), *(0x1FB00 + bits - 1 - (bits > 21) - (bits > 42) for bits in range(1, 63)), ord("█")], np.uint32
)
_SEXTANTS[[21, 42]] = ord("▌"), ord("▐")
"""Characters for all combinations of filled sixths. The index is the sum of the values of the filled sixths: 1 and 2
for the left and the right of the upper row, 4 and 8 for the middle row, 16 and 32 for the lower row (The Unicode
Standard, code chart "Symbols for Legacy Computing"). The chart leaves out the four combinations that already had
characters."""

_THIRDS = np.array([[0.75, 0.25, 0.0, 0.0], [0.0, 0.5, 0.5, 0.0], [0.0, 0.0, 0.25, 0.75]], np.float32)
"""For each of a cell's three rows of sixths, the weights of the cell's four rows of pixels, (3, 4)."""
_HALVED = np.array([[0.5, 0.5, 0.0, 0.0], [0.0, 0.0, 0.5, 0.5]], np.float32)

_SLACK = 3 * 8.0**2
"""A cell gets a second colour only if that reduces the squared error of the cell by more than this value. The error is
summed over the parts of the cell and the three channels. The value corresponds to an error of eight levels (one step of
a `Palette`) in each channel of one part."""

_BRAILLE = 0x2800
_DOTS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], np.uint32)
"""The bit of each dot of a cell, in four rows of two dots (The Unicode Standard, chapter 21, "Braille Patterns")."""

_LUMA = np.array([2126, 7152, 722], np.int32)
"""Weights of red, green and blue in lightness, in ten-thousandths (ITU-R BT.709). They are integers, so that sums are
exact: many greys are exactly on the boundary between two letters, and sums of floats differ between processors."""

_DARKEST, _LIGHTEST = 40.0, 215.0
"""Maximum lightness at which no dot is set, and minimum lightness at which all dots are set, from 0 to 255. With these
values, the background stays empty, and a surface in full light is filled."""


@dataclass(frozen=True, slots=True)
class Cells:
    """A kind of cell, and the conversion of pictures to cells of this kind.

    Attributes:
        name: Name of this kind of cell, as shown on the screen.
        across: Number of pixels across a cell.
        down: Number of pixels down a cell; about twice `across`, because a cell is about twice as high as it is wide.
        strips: Function that converts a picture to lines of the screen, on which text can be written.
        dim: Whether a thin dim line stays visible as a line.
        over: Function that makes the final lines from a picture and its lines with text. In a terminal that draws
            pixels, the final lines carry the picture and can't be cropped.
    """

    name: str
    across: int
    down: int
    strips: Callable[[Picture], list[Strip]]
    dim: bool = False
    over: Callable[[Picture, list[Strip]], list[Strip]] = lambda _, lines: lines

    def pixels(self, columns: int, rows: int) -> tuple[int, int]:
        """Return the width and the height, in pixels, of the picture that fills an area of `columns` x `rows` cells."""
        return columns * self.across, rows * self.down


def cells_for(depth: Depth, ascii_only: bool, *, dots: bool) -> list[Cells]:
    """Return the kinds of cells that a terminal can show, the most suitable first.

    Args:
        depth: The terminal's colours.
        ascii_only: Whether the terminal can show only ASCII.
        dots: Whether the picture consists of lines, which the finest dots show best.
    """
    if ascii_only:
        return [Cells("letters", 1, 2, letter_strips)]
    fine = Cells("dots", 2, 4, lambda picture: dot_strips(picture, depth))
    if depth is Depth.NONE:
        return [fine, Cells("blocks", 1, 2, lambda picture: block_strips(picture, depth))]
    if depth is Depth.SIXTEEN:  # shades are patterns of two colours, which need pixels of equal size
        coarse = [Cells("blocks", 2, 4, lambda picture: block_strips(smaller(picture, 2), depth))]
    else:
        coarse = [
            Cells("quarters", 2, 4, lambda picture: parted_strips(picture, depth, _QUADRANTS, _HALVED), True),
            Cells("sixths", 2, 4, lambda picture: parted_strips(picture, depth, _SEXTANTS, _THIRDS), True),
        ]
    return [fine, *coarse] if dots else [*coarse, fine]


def parted_strips(picture: Picture, depth: Depth, letters: Letters, rows: npt.NDArray[np.float32]) -> list[Strip]:
    """Convert a picture to cells of up to two colours. Each cell consists of parts, such as quarters.

    The parts of each cell are divided between the two colours so that the error is smallest.

    Args:
        picture: The picture, (4 h, 2 w, 3).
        depth: The terminal's colours; not Depth.NONE.
        letters: Characters for all combinations of filled parts. The index of a character has one bit for each part,
            row by row. The lowest bit is for the upper left part.
        rows: For each of a cell's r rows of parts, the weights of the cell's four rows of pixels, (r, 4).

    Returns:
        h lines of w cells.
    """
    height, width, parts = picture.shape[0] // 4, picture.shape[1] // 2, 2 * len(rows)
    samples = picture.reshape(height, 4, width, 2, 3).astype(np.float32)
    values = np.einsum("rs,hswac->hwrac", rows, samples).reshape(height * width, parts, 3)
    inks = np.arange(0, 1 << parts, 2)  # the first part is never filled, so each division comes only once
    inked = (inks[:, None] >> np.arange(parts) & 1).astype(np.float32)
    count = inked.sum(axis=1)[:, None]
    ink = inked @ values  # (cells, divisions, 3)
    paper = values.sum(axis=1, keepdims=True) - ink
    kept = ((ink**2) / np.maximum(count, 1.0) + paper**2 / (parts - count)).sum(axis=2)
    # `kept` is greatest for the division whose colours are closest to the parts. The slack avoids needless divisions.
    best = (kept - _SLACK * (count[:, 0] > 0)).argmax(axis=1)
    cell = np.arange(len(values))
    share = count[best]
    palette = palette_of(depth)
    colours = np.stack([ink[cell, best] / np.maximum(share, 1.0), paper[cell, best] / (parts - share)])
    inks_code, papers = palette.codes(np.rint(colours).astype(np.uint8)).astype(np.int64)
    two = (share[:, 0] > 0) & (inks_code != papers)
    keys = np.where(two, (inks_code + 1) << 16, 0) | papers
    drawn = letters[np.where(two, inks[best], 0)]
    shape = (height, width)
    return _strips(drawn.reshape(shape), keys.reshape(shape), lambda key: palette.style(_ink(key), key & 0xFFFF))


def block_strips(picture: Picture, depth: Depth) -> list[Strip]:
    """Convert a picture, (2 h, w, 3), to h lines of w cells, each of which consists of two half blocks. Without
    colours, shades become patterns."""
    if depth is Depth.NONE:
        dots = _lit(picture).astype(np.int64)
        return _plain(_HALVES[dots[0::2] + 2 * dots[1::2]])
    palette = palette_of(depth)
    codes = palette.codes(picture)
    upper, lower = codes[0::2].astype(np.int64), codes[1::2]
    two = upper != lower
    keys = np.where(two, (upper + 1) << 16, 0) | lower
    return _strips(_HALVES[two.astype(np.int64)], keys, lambda key: palette.style(_ink(key), key & 0xFFFF))


def _ink(key: int) -> int | None:
    return (key >> 16) - 1 if key >> 16 else None


def dot_strips(picture: Picture, depth: Depth) -> list[Strip]:
    """Convert a picture, (4 h, 2 w, 3), to h lines of w cells of eight Braille dots. Unless `depth` is Depth.NONE, each
    cell has the mean colour of its dots that are set."""
    height, width = picture.shape[0] // 4, picture.shape[1] // 2
    dots = _lit(picture)
    letters = braille(dots)
    if depth is Depth.NONE:
        return _plain(letters)
    palette = palette_of(depth)
    lit = dots.reshape(height, 4, width, 2).transpose(0, 2, 1, 3)
    count = lit.sum(axis=(2, 3))
    colours = picture.reshape(height, 4, width, 2, 3).transpose(0, 2, 1, 3, 4)
    total = (colours * lit[..., None]).sum(axis=(2, 3))
    mean = np.where(count[..., None] > 0, total // np.maximum(count, 1)[..., None], np.array(GROUND)).astype(np.uint8)
    ground = int(palette.codes(np.array([[GROUND]], np.uint8))[0, 0])
    return _strips(letters, palette.codes(mean).astype(np.int64), lambda key: palette.style(key, ground))


def braille(dots: npt.NDArray[np.bool_]) -> Letters:
    """Convert dots, (4 h, 2 w), to the code points of Braille characters, (h, w). A cell in which no dot is set becomes
    a space."""
    height, width = dots.shape[0] // 4, dots.shape[1] // 2
    bits = (dots.reshape(height, 4, width, 2).transpose(0, 2, 1, 3) * _DOTS).sum(axis=(2, 3), dtype=np.uint32)
    return np.where(bits > 0, _BRAILLE + bits, np.uint32(ord(" ")))


def letter_strips(picture: Picture) -> list[Strip]:
    """Convert a picture, (2 h, w, 3), to h lines of w characters, which are chosen by lightness."""
    light = _lightness(picture)
    light = (light[0::2] + light[1::2]) / 2.0
    return _plain(_RAMP[np.clip(light * len(_RAMP), 0, len(_RAMP) - 1).astype(np.int64)])


def _lightness(picture: Picture) -> Floats:
    """Return the lightness of each pixel of a picture, (h, w): 0 for the background, 1 for a surface in full light."""
    return np.asarray(np.clip((picture @ _LUMA / 1e4 - _DARKEST) / (_LIGHTEST - _DARKEST), 0.0, 1.0))


def _lit(picture: Picture) -> npt.NDArray[np.bool_]:
    return np.asarray(_lightness(picture) > thresholds(*picture.shape[:2]))


def _plain(letters: Letters) -> list[Strip]:
    return [Strip([Segment(text_of(line), PLAIN)], len(line)) for line in letters]


def _strips(letters: Letters, keys: npt.NDArray[np.int64], style: Callable[[int], Style]) -> list[Strip]:
    """Make lines of cells. Neighbouring cells of the same style become one segment, which saves bytes on a slow
    connection."""
    strips = []
    for line, key in zip(letters, keys, strict=True):
        text = text_of(line)
        starts = np.flatnonzero(np.diff(key, prepend=-1))
        stops = [*starts[1:].tolist(), len(text)]
        pieces = zip(starts.tolist(), stops, key[starts].tolist(), strict=True)
        strips.append(Strip([Segment(text[start:stop], style(one)) for start, stop, one in pieces], len(text)))
    return strips


def overlaid(line: Strip, column: int, text: str, style: Style) -> Strip:
    """Return a line with text written over it, starting at a given column. Each cell keeps its background, and text
    beyond the end of the line is cut off."""
    below = line.crop(column, column + len(text))
    pieces, at = [], 0
    for piece in below:
        paper = Style(bgcolor=piece.style.bgcolor) if piece.style else PLAIN
        pieces.append(Segment(text[at : at + piece.cell_length], paper + style))
        at += piece.cell_length
    return Strip.join([line.crop(0, column), Strip(pieces), line.crop(column + below.cell_length)])


def text_of(line: Letters) -> str:
    return np.ascontiguousarray(line, "<u4").tobytes().decode("utf-32-le")
