"""Load the fonts of captions, measure lines of text, and draw them."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.errors import MeshqcError
from inspector.names import Name, safe
from inspector.picture.image_files import BROKEN
from inspector.sequence.discovery.scope import Scope

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFont import FreeTypeFont

EM = 1000
"""Font size at which text is measured, in pixels per em: a pixel is a thousandth of an em."""

_FONT_BYTES = 64_000_000
"""Maximum size of a font file, in bytes; a font for all East Asian scripts takes about 20 million."""

_OWN = {200: "ExtraLight", 300: "Light", 400: "Regular", 600: "Semibold", 700: "Bold", 900: "Black"}
"""Style name in the file names of the package font-source-sans-pro (SIL Open Font License 1.1), by weight (OpenType,
OS/2 usWeightClass).
"""

_OWN_WEIGHT = 700
_NO_CHARACTER = "\uffff"  # not a character, so a font draws its glyph for missing characters
_LINE_SPACING = 1.15
"""Distance between baselines, in ems (common practice, no source)."""


@dataclass(frozen=True)
class TextBlock:
    """Lines of text, laid out at one font size.

    Attributes:
        width: Width of the ink, including the outline, in pixels.
        height: Height of the ink, including the outline, in pixels.
        starts: Origin of each line, in pixels right and down from the upper left corner of the ink.
    """

    width: float
    height: float
    starts: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class CaptionFont:
    """A font in one weight.

    Attributes:
        name: Displayed name.
        data: Content of the font file.
        weight: Weight, 100 to 900; None for a font file that is used as it is.
        axis: Whether the font is a variable font to be set to `weight`.
    """

    name: str
    data: bytes
    weight: int | None
    axis: bool = False

    def at(self, em: float) -> FreeTypeFont:
        """Load the font at a size. Text is laid out with kerning, but without ligatures.

        Args:
            em: Font size, in pixels per em.
        """
        from PIL import ImageFont

        font = ImageFont.truetype(io.BytesIO(self.data), em, layout_engine=ImageFont.Layout.BASIC)
        if self.axis:
            font.set_variation_by_axes(_axes(font, self.weight))
        return font

    @cached_property
    def measured(self) -> FreeTypeFont:
        """The font at size EM."""
        return self.at(EM)

    @cached_property
    def _looked_at(self) -> FreeTypeFont:
        """The font at a small size, at which glyphs are distinct and quick to compare."""
        return self.at(EM / 10)

    @cached_property
    def capital(self) -> float:
        """Height of a capital, in ems; the ascent if the font has no H."""
        if self.missing("H"):
            return self.measured.getmetrics()[0] / EM
        _, top, _, bottom = self.measured.getbbox("H", anchor="ls")
        return (bottom - top) / EM

    @property
    def bold(self) -> bool:
        """Whether the font is known to be bold."""
        return self.weight is not None and self.weight >= 700

    def missing(self, text: str) -> str:
        """Return those letters of a text for which the font has no glyph. The font draws such a letter in the same
        shape as U+FFFF, which is not a character.
        """
        none = self._shape(_NO_CHARACTER)
        return "".join(one for one in dict.fromkeys(text) if not one.isspace() and self._shape(one) == none)

    def _shape(self, letter: str) -> tuple[bytes, object, float]:
        mask, offset = self._looked_at.getmask2(letter, anchor="ls")
        return bytes(mask), offset, self._looked_at.getlength(letter)

    def block(self, texts: Sequence[str], align: str, outline: float, em: float = EM) -> TextBlock:
        """Lay out lines of text one below the other.

        Args:
            texts: The lines.
            align: `left`, `centre` or `right`.
            outline: Width of the outline, as a fraction of the height of a capital; 0 for no outline.
            em: Font size, in pixels per em.
        """
        font = self.measured if em == EM else self.at(em)
        stroke = outline * self.capital * em
        step = _LINE_SPACING * em
        boxes = [_ink_box(font, text) for text in texts]
        widest = max(right - left for left, _, right, _ in boxes)
        share = {"left": 0.0, "centre": 0.5, "right": 1.0}[align]
        top = min(box[1] + number * step for number, box in enumerate(boxes))
        bottom = max(box[3] + number * step for number, box in enumerate(boxes))
        starts = tuple(
            (share * (widest - (right - left)) - left + stroke, number * step - top + stroke)
            for number, (left, _, right, _) in enumerate(boxes)
        )
        return TextBlock(widest + 2 * stroke, bottom - top + 2 * stroke, starts)

    def letter_at(self, texts: Sequence[str], block: TextBlock, points: Floats) -> Indices:
        """Find the letter at each point of a block.

        Args:
            texts: The lines.
            block: The lines, laid out at size EM.
            points: The points, in pixels right and down from the block's upper left corner, (n, 2).

        Returns:
            Index of the letter at each point, (n,), counted from 0 across all lines.
        """
        middles = np.array([start[1] - EM * self.capital / 2.0 for start in block.starts])
        line = np.abs(points[:, 1, None] - middles).argmin(axis=1)
        letter = np.zeros(len(points), np.int64)
        first = 0
        for number, (text, start) in enumerate(zip(texts, block.starts, strict=True)):
            ends = [start[0] + self.measured.getlength(text[:count]) for count in range(1, len(text))]
            here = line == number
            letter[here] = first + np.searchsorted(ends, points[here, 0])
            first += len(text)
        return letter

    def drawn(self, texts: Sequence[str], block: TextBlock, em: float, stroke: int = 0) -> Image:
        """Draw the ink of a block as a greyscale image (Pillow mode `L`): 0 for no ink, 255 for full ink.

        Args:
            texts: The lines.
            block: The lines, laid out at size `em`.
            em: Font size, in pixels per em.
            stroke: Width by which letters are thickened on each side, in pixels.
        """
        from PIL import Image, ImageDraw

        image = Image.new("L", (max(1, round(block.width)), max(1, round(block.height))))
        pen, font = ImageDraw.Draw(image), self.at(em)
        for text, start in zip(texts, block.starts, strict=True):
            pen.text(start, text, fill=255, font=font, anchor="ls", stroke_width=stroke)
        return image


def _ink_box(font: FreeTypeFont, text: str) -> tuple[float, float, float, float]:
    """Return the left, top, right and bottom edges of the ink of a line, in pixels from the line's origin, without the
    side bearings of the first and the last letter.
    """
    left, right = (_sides(font, letter) for letter in (text[0], text[-1]))
    _, top, _, bottom = font.getbbox(text, anchor="ls")
    return left[0], top, font.getlength(text) - font.getlength(text[-1]) + right[1], bottom


def _sides(font: FreeTypeFont, letter: str) -> tuple[float, float]:
    """Return the left and right edges of a letter's ink, in pixels from its origin; 0 and the advance if there is no
    ink.
    """
    mask, (left, _) = font.getmask2(letter, mode="L", anchor="ls")
    ink = mask.getbbox()
    return (0.0, font.getlength(letter)) if ink is None else (left + ink[0], left + ink[2])


def own_font(weight: int | None = None) -> CaptionFont:
    """Return the font that comes with this tool.

    Args:
        weight: Weight of the font, 100 to 900; None for bold. The closest available weight is used.
    """
    nearest = min(_OWN, key=lambda one: abs(one - (weight or _OWN_WEIGHT)))
    name = f"SourceSansPro-{_OWN[nearest]}.ttf"
    return CaptionFont(name, (resources.files("font_source_sans_pro") / "files" / name).read_bytes(), nearest)


def caption_font(file: Path | None, weight: int | None, scope: Scope) -> CaptionFont:
    """Read the font of a caption.

    Args:
        file: Path of a font file inside the folders that may be read; None for the font that comes with this tool.
        weight: Weight of the font, 100 to 900; None makes the font that comes with this tool bold, and leaves the font
            of a font file as it is.
        scope: The folders that may be read.

    Raises:
        MeshqcError: The file can't be read, is too large, is not a font file, or doesn't have the weight.
    """
    if file is None:
        return own_font(weight)
    name = safe(Name.from_path(file.name).display)
    try:
        with scope.open(file) as stream:
            data = stream.read(_FONT_BYTES + 1)
        if len(data) > _FONT_BYTES:
            raise MeshqcError(f"{name}: the file has more than {_FONT_BYTES:,} bytes, too many for a font file")
        font = CaptionFont(name, data, weight)
        if weight is None:
            font.measured.getbbox("H")
            return font
        _axes(font.measured, weight)
        return CaptionFont(name, data, weight, axis=True)
    except BROKEN as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "its content is not a font"
        raise MeshqcError(f"{name}: the font file can't be read: {reason}") from error


def _axes(font: FreeTypeFont, weight: int | None) -> list[float]:
    """Return the values for the axes of a variable font: the given weight, and the default values of all other axes.

    Raises:
        MeshqcError: The font is not variable, or doesn't have the weight.
    """
    try:
        axes = font.get_variation_axes()
    except OSError as error:
        raise MeshqcError("the font file has only one weight; leave `weight` out, or use a variable font") from error
    values = []
    for axis in axes:
        named = axis["name"] in (b"Weight", "Weight")
        if named and not (axis["minimum"] or 0) <= (weight or 0) <= (axis["maximum"] or 0):
            raise MeshqcError(
                f"the font has weights from {axis['minimum']} to {axis['maximum']}, not {weight}; "
                "choose a weight in this range"
            )
        values.append(float((weight if named else axis["default"]) or 0))
    return values
