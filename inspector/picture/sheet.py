"""Arrange pictures with captions on one sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inspector.picture.canvas import DARK, Picture, blank
from inspector.picture.labels import fitted_label, label_size, write_label

GAP = 6
"""Number of pixels between pictures, and around them."""


@dataclass(frozen=True, eq=False)
class Captioned:
    """A picture and its caption.

    Attributes:
        picture: The picture, (h, w, 3).
        caption: One line of text. Unsafe characters are escaped when the caption is drawn.
    """

    picture: Picture
    caption: str


def contact_sheet(pictures: Sequence[Captioned], *, columns: int, size: int = 13, title: str = "") -> Picture:
    """Arrange pictures in rows on a sheet, (h, w, 3), each with its caption below it.

    All boxes around pictures have the same size. Each picture is in the upper left corner of its box.

    Args:
        pictures: One or more pictures.
        columns: Maximum number of pictures per row.
        size: Em size of the letters, in pixels. If a caption is wider than its box, two dots replace its middle.
        title: A line of text above all pictures; empty for no title.

    Raises:
        ValueError: There is no picture.
    """
    if not pictures:
        raise ValueError("a contact sheet needs at least one picture")
    columns = min(columns, len(pictures))
    tall = max(entry.picture.shape[0] for entry in pictures)
    wide = max(entry.picture.shape[1] for entry in pictures)
    line = label_size("", size)[1]
    head = line + GAP if title else 0
    rows = -(-len(pictures) // columns)
    sheet = blank(columns * (wide + GAP) + GAP, head + rows * (tall + line + GAP) + GAP, DARK)
    if title:
        write_label(sheet, fitted_label(title, sheet.shape[1] - 2 * GAP, size), GAP, GAP, size)
    for number, entry in enumerate(pictures):
        left = GAP + number % columns * (wide + GAP)
        top = head + GAP + number // columns * (tall + line + GAP)
        height, width = entry.picture.shape[:2]
        sheet[top : top + height, left : left + width] = entry.picture
        write_label(sheet, fitted_label(entry.caption, wide, size), left, top + tall, size)
    return sheet


def side_by_side(pictures: Sequence[Captioned], columns: int, size: int) -> Picture:
    """Arrange pictures in rows without gaps. Each picture has its caption in its upper left corner.

    Args:
        pictures: One or more pictures of the same size.
        columns: Number of pictures per row.
        size: Em size of the captions, in pixels.

    Returns:
        All pictures in one picture, (h, w, 3).
    """
    height, width = pictures[0].picture.shape[:2]
    rows = -(-len(pictures) // columns)
    whole = blank(columns * width, rows * height) if len(pictures) > 1 else pictures[0].picture.copy()
    for number, entry in enumerate(pictures):
        left, top = number % columns * width, number // columns * height
        whole[top : top + height, left : left + width] = entry.picture
        text = fitted_label(entry.caption, width - 2 * size, size)
        write_label(whole, text, left + size // 2, top + size // 3, size, plate=DARK)
    return whole
