"""Pictures as arrays, and basic drawing operations."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.picture.font import HEIGHT, fitted, written

Picture = npt.NDArray[np.uint8]
"""A picture, (h, w, 3): red, green and blue as shown on a screen (sRGB), the top row first."""

Mask = npt.NDArray[np.bool_]
Colour = tuple[int, int, int]

GROUND: Colour = (30, 32, 36)
"""The background colour: dark but not black, so that black textures and shadows are distinct from it."""

INK: Colour = (232, 232, 228)
QUIET: Colour = (120, 124, 130)
DARK: Colour = (12, 12, 14)


def blank(width: int, height: int, colour: Colour = GROUND) -> Picture:
    """Make a picture of one colour.

    Args:
        width: Width in pixels.
        height: Height in pixels.
        colour: The colour.
    """
    picture = np.empty((height, width, 3), np.uint8)
    picture[:] = colour
    return picture


def write(picture: Picture, text: str, left: int, top: int, colour: Colour = INK, scale: int = 1) -> None:
    """Write text into a picture. Letters are cut off at the edges.

    Args:
        picture: The picture, (h, w, 3).
        text: The text. Unsafe characters are escaped (`inspector.names.safe`).
        left: Column at which the text begins.
        top: Row at which the text begins.
        colour: Colour of the letters.
        scale: Side of a dot of the font, in pixels.
    """
    stamp(picture, written(text, scale), left, top, colour)


def write_framed(picture: Picture, text: str, left: int, top: int, scale: int = 1) -> None:
    """Write text into a picture, on a filled rectangle that makes it readable on any background.

    Args:
        picture: The picture, (h, w, 3).
        text: The text. Unsafe characters are escaped (`inspector.names.safe`).
        left: Column at which the text begins.
        top: Row at which the text begins.
        scale: Side of a dot of the font, in pixels.
    """
    dots = written(text, scale)
    stamp(picture, np.ones((dots.shape[0] + 4, dots.shape[1] + 3), bool), left - 2, top - 2, DARK)
    stamp(picture, dots, left, top, INK)


def stamp(picture: Picture, dots: Mask, left: int, top: int, colour: Colour) -> None:
    """Colour those pixels of a picture that are selected by a mask. The mask is cut off at the edges of the picture.

    Args:
        picture: The picture, (h, w, 3).
        dots: The mask, of any size.
        left: Column of the mask's left edge.
        top: Row of the mask's top edge.
        colour: Colour of the pixels.
    """
    height, width = picture.shape[:2]
    first_row, first_column = max(-top, 0), max(-left, 0)
    dots = dots[first_row : max(height - top, 0), first_column : max(width - left, 0)]
    row, column = top + first_row, left + first_column
    picture[row : row + dots.shape[0], column : column + dots.shape[1]][dots] = colour


def smaller(picture: Picture, factor: int) -> Picture:
    """Reduce a picture by averaging blocks of `factor` x `factor` pixels. Incomplete blocks at the edges are dropped.

    Args:
        picture: The picture, (h, w, channels).
        factor: Side of a block, in pixels.
    """
    height, width = picture.shape[0] // factor, picture.shape[1] // factor
    blocks = picture[: height * factor, : width * factor].reshape(height, factor, width, factor, -1)
    return np.asarray(np.rint(blocks.mean(axis=(1, 3))), np.uint8)


def say_blocks(picture: Picture) -> None:
    """Write the note "drawn in coarse blocks" at the lower edge of a picture.

    The letters are large, because the picture may be scaled down. Nothing is written if the text would cover much of
    the picture, because the blocks are then obvious.
    """
    scale = max(1, picture.shape[0] // 400)
    if picture.shape[0] < 10 * HEIGHT:
        return
    text = fitted("drawn in coarse blocks: too many large faces overlap", picture.shape[1], scale)
    write_framed(picture, text, 0, picture.shape[0] - (HEIGHT + 2) * scale, scale=scale)


def stripes(height: int, width: int, *, period: int, thickness: int, rising: bool = True) -> Mask:
    """Make a mask of diagonal stripes, (height, width).

    Args:
        height: Height in pixels.
        width: Width in pixels.
        period: Horizontal distance from one stripe to the next, in pixels.
        thickness: Horizontal thickness of a stripe, in pixels.
        rising: Whether the stripes rise to the right.
    """
    row, column = np.ogrid[:height, :width]
    return np.asarray((column + row if rising else column - row) % period < thickness)


def grown(mask: Mask, reach: int) -> Mask:
    """Return a mask, (h, w), expanded by `reach` rows and columns in each direction."""
    mask = np.pad(mask, reach)
    merged, window = 1, 2 * reach + 1
    while merged < window:  # each pass makes windows of up to twice as many rows and columns from two windows
        step = min(merged, window - merged)
        mask = mask[:-step] | mask[step:]
        mask = mask[:, :-step] | mask[:, step:]
        merged += step
    return mask
