"""Several pictures on one, each with its caption."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inspector.picture.canvas import DARK, Picture, blank, write
from inspector.picture.font import HEIGHT, fitted

_GAP = 6


@dataclass(frozen=True, eq=False)
class Captioned:
    """A picture (h, w, 3) and the line under it; the caption may come from a file, it is made safe."""

    picture: Picture
    caption: str


def contact_sheet(pictures: Sequence[Captioned], *, columns: int, scale: int = 1) -> Picture:
    """Rows of `columns` pictures, first on the upper left; each in a box as large as the largest, and its caption.

    `scale`: pixels to a dot of the font. Captions wider than a picture lose their middle. Raises ValueError without
    any picture.
    """
    if not pictures:
        raise ValueError("a contact sheet takes one or more pictures")
    columns = min(columns, len(pictures))
    tall = max(entry.picture.shape[0] for entry in pictures)
    wide = max(entry.picture.shape[1] for entry in pictures)
    line = HEIGHT * scale + _GAP
    rows = -(-len(pictures) // columns)
    sheet = blank(columns * (wide + _GAP) + _GAP, rows * (tall + line + _GAP) + _GAP, DARK)
    for number, entry in enumerate(pictures):
        left = _GAP + number % columns * (wide + _GAP)
        top = _GAP + number // columns * (tall + line + _GAP)
        height, width = entry.picture.shape[:2]
        sheet[top : top + height, left : left + width] = entry.picture
        write(sheet, fitted(entry.caption, wide, scale), left, top + tall + _GAP // 2 + 1, scale=scale)
    return sheet
