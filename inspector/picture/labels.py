"""Write labels into pictures, in Source Sans Pro (SIL Open Font License 1.1)."""

from __future__ import annotations

import io
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

import numpy as np

from inspector.arrays import Floats
from inspector.names import safe
from inspector.picture.canvas import INK, Colour, Picture

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

_PLATE = 0.72
"""Opacity of the plate (a filled rectangle) under a label."""


@cache
def _font(size: int) -> FreeTypeFont:
    from PIL import ImageFont

    data = (resources.files("font_source_sans_pro") / "files" / "SourceSansPro-Semibold.ttf").read_bytes()
    return ImageFont.truetype(io.BytesIO(data), size, layout_engine=ImageFont.Layout.BASIC)


def label_size(text: str, size: int) -> tuple[int, int]:
    """Return the width and the height, in pixels, of a line of text with an em of `size` pixels. Unsafe characters are
    escaped."""
    ascent, descent = _font(size).getmetrics()
    return round(_font(size).getlength(safe(text))), ascent + descent


def label_mask(text: str, size: int) -> Floats:
    """For each pixel, return the fraction that the letters of a line of text cover, (h, w). The em has `size`
    pixels."""
    from PIL import Image, ImageDraw

    wide, high = label_size(text, size)
    mask = Image.new("L", (max(wide, 1), high))
    ImageDraw.Draw(mask).text((0, 0), safe(text), fill=255, font=_font(size))
    return np.asarray(mask) / 255.0


def fitted_label(text: str, width: int, size: int) -> str:
    """Replace the middle of a line of text with two dots if the line is wider than `width` pixels."""
    text = safe(text)
    kept = len(text)
    while kept > 2 and label_size(short := _shortened(text, kept), size)[0] > width:
        kept = min(kept - 1, int(kept * width / max(label_size(short, size)[0], 1)) + 1)
    return _shortened(text, kept)


def _shortened(text: str, kept: int) -> str:
    if kept >= len(text):
        return text
    tail = kept // 2
    return f"{text[: kept - tail]}..{text[len(text) - tail :]}"


def write_label(
    picture: Picture, text: str, left: int, top: int, size: int, *, ink: Colour = INK, plate: Colour | None = None
) -> None:
    """Write a line of text into a picture. Parts that extend beyond the picture are cut off.

    Args:
        picture: The picture, (h, w, 3).
        text: The text. Unsafe characters are escaped.
        left: Column at which the text begins.
        top: Row at which the text begins.
        size: Em size, in pixels.
        ink: Colour of the letters.
        plate: Colour of the plate under the letters; None for no plate.
    """
    mask = label_mask(text, size)
    high, wide = mask.shape
    margin = size // 4 if plate is not None else 0
    if plate is not None:
        _blend(picture, np.full((high + margin, wide + 2 * margin), _PLATE), left - margin, top - margin // 2, plate)
    _blend(picture, mask, left, top, ink)


def _blend(picture: Picture, share: Floats, left: int, top: int, colour: Colour) -> None:
    height, width = picture.shape[:2]
    row, column = max(top, 0), max(left, 0)
    share = share[row - top : max(height - top, 0), column - left : max(width - left, 0), None]
    place = picture[row : row + share.shape[0], column : column + share.shape[1]]
    place[:] = np.rint(place * (1.0 - share) + np.array(colour) * share)
