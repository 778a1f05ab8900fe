"""Pictures as arrays, and the few things that all drawings do to them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.picture.font import HEIGHT, fitted, written

Picture = npt.NDArray[np.uint8]
"""(h, w, 3): red, green, blue as shown on a screen (sRGB), first row on top."""

Mask = npt.NDArray[np.bool_]
Colour = tuple[int, int, int]

GROUND: Colour = (30, 32, 36)
"""Behind everything: dark, not black, so that black texture and shadow stay apart from it."""

INK: Colour = (232, 232, 228)
QUIET: Colour = (120, 124, 130)
DARK: Colour = (12, 12, 14)


def blank(width: int, height: int, colour: Colour = GROUND) -> Picture:
    """A picture of one colour."""
    picture = np.empty((height, width, 3), np.uint8)
    picture[:] = colour
    return picture


def write(picture: Picture, text: str, left: int, top: int, colour: Colour = INK, scale: int = 1) -> None:
    """Write text into the picture in place; what reaches beyond its edges is cut off."""
    stamp(picture, written(text, scale), left, top, colour)


def write_framed(
    picture: Picture, text: str, left: int, top: int, scale: int = 1, *, ink: Colour = INK, plate: Colour = DARK
) -> None:
    """Text on a plate: readable on any ground."""
    dots = written(text, scale)
    stamp(picture, np.ones((dots.shape[0] + 4, dots.shape[1] + 3), bool), left - 2, top - 2, plate)
    stamp(picture, dots, left, top, ink)


def stamp(picture: Picture, dots: Mask, left: int, top: int, colour: Colour) -> None:
    """Colour the picture where `dots` is set, with its corner at (left, top), in place; cut off at the edges."""
    height, width = picture.shape[:2]
    first_row, first_column = max(-top, 0), max(-left, 0)
    dots = dots[first_row : max(height - top, 0), first_column : max(width - left, 0)]
    row, column = top + first_row, left + first_column
    picture[row : row + dots.shape[0], column : column + dots.shape[1]][dots] = colour


def smaller(picture: Picture, factor: int) -> Picture:
    """The picture with factor x factor pixels averaged into one; rows and columns left over are dropped."""
    height, width = picture.shape[0] // factor, picture.shape[1] // factor
    blocks = picture[: height * factor, : width * factor].reshape(height, factor, width, factor, -1)
    return np.asarray(np.rint(blocks.mean(axis=(1, 3))), np.uint8)


def say_blocks(picture: Picture) -> None:
    """Write into a picture, in place at the lower edge, that it is coarse.

    The letters are larger than would do, since the picture may yet be made smaller. Nothing is written where a line
    takes much of the picture; there the blocks show by themselves.
    """
    scale = max(1, picture.shape[0] // 400)
    if picture.shape[0] < 10 * HEIGHT:
        return
    text = fitted("drawn in coarse blocks: too many large faces lie on each other", picture.shape[1], scale)
    write_framed(picture, text, 0, picture.shape[0] - (HEIGHT + 2) * scale, scale=scale)


def stripes(height: int, width: int, *, period: int, thickness: int, rising: bool = True) -> Mask:
    """(h, w) diagonal hatching: `thickness` of every `period` pixels, rising to the right or falling."""
    row, column = np.ogrid[:height, :width]
    return np.asarray((column + row if rising else column - row) % period < thickness)


def grown(mask: Mask, reach: int) -> Mask:
    """The mask (h, w) and all pixels at most `reach` rows and columns from it."""
    if reach == 0:
        return mask
    for _ in range(2):  # sums over a window, first down, then, turned, across
        totals = np.cumsum(np.pad(mask, ((reach + 1, reach), (0, 0))), axis=0, dtype=np.int32)
        mask = (totals[2 * reach + 1 :] > totals[: -2 * reach - 1]).T
    return mask
