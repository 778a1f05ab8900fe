"""Draw a caption version onto its base map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector import limits
from inspector.arrays import Floats
from inspector.lettering.caption_file import Version
from inspector.lettering.caption_font import CaptionFont
from inspector.lettering.caption_layout import CaptionLayout

Pixels = npt.NDArray[np.uint8]
"""An image, (h, w, 4): red, green, blue (sRGB) and opacity, the top row first."""

_FINENESS = (2, 1)
"""Factors by which letters are drawn larger than their final size, for smooth edges. The second is used if the first
would need more than limits.DRAWN_PIXELS pixels.
"""


@dataclass(frozen=True, eq=False)
class Rendered:
    """A texture with its lettering.

    Attributes:
        pixels: The whole texture.
        ground: The base map in the box around the text, with the outline of the letters but without the letters
            themselves.
        ink: For each pixel of the box, the share that the letters cover, (h, w).
        left: First column of the box in the texture.
        top: First row of the box in the texture.
    """

    pixels: Pixels
    ground: Pixels
    ink: Floats
    left: int
    top: int


def render(version: Version, font: CaptionFont, layout: CaptionLayout, base: Pixels) -> Rendered:
    """Draw a version onto a copy of its base map.

    Args:
        version: The caption version.
        font: The font of the version.
        layout: The position of the text on the texture.
        base: The base map, at the size of the texture.
    """
    height, width = base.shape[:2]
    scale = np.array([width, -height])
    middle = layout.middle % 1.0 * scale + (0.0, height)
    ems = np.stack([layout.across * scale, layout.upward * scale], axis=1)  # from ems of the text to pixels
    half = (np.abs(ems[:, 0]) * layout.width + np.abs(ems[:, 1]) * layout.height) / 2.0
    left, top = np.maximum(np.floor(middle - half), 0).astype(int).tolist()
    right, bottom = np.minimum(np.ceil(middle + half), (width, height)).astype(int).tolist()
    box = (left, top, max(right, left + 1), max(bottom, top + 1))
    outline = _coverage(version, font, layout, ems, middle, box, version.outline_width) if version.outline else None
    ink = _coverage(version, font, layout, ems, middle, box)
    rows, columns = slice(box[1], box[3]), slice(box[0], box[2])
    ground = base[rows, columns]
    if outline is not None and version.outline is not None:
        ground = _over(ground, version.outline, outline * version.opacity)
    pixels = base.copy()
    pixels[rows, columns] = _over(ground, version.colour, ink * version.opacity)
    return Rendered(pixels, ground, ink, left, top)


def _coverage(
    version: Version,
    font: CaptionFont,
    layout: CaptionLayout,
    ems: Floats,
    middle: Floats,
    box: tuple[int, int, int, int],
    stroke: float = 0.0,
) -> Floats:
    """Draw the shapes of a version's letters.

    Args:
        version: The caption version.
        font: The font of the version.
        layout: The position of the text on the texture.
        ems: One em along a line of text, and one em up, as column vectors in pixels of the texture, (2, 2).
        middle: Centre of the text, in pixels of the texture, (2,).
        box: Left, top, right and bottom of the box to draw, in pixels of the texture.
        stroke: Width by which letters are thickened on each side, as a fraction of the height of a capital.

    Returns:
        For each pixel of the box, the share that the letters cover, (h, w).
    """
    from PIL import Image

    left, top, right, bottom = box
    area = (right - left) * (bottom - top)
    fine = next(factor for factor in _FINENESS if factor == 1 or factor**2 * area <= limits.DRAWN_PIXELS)
    em = fine * float(np.linalg.norm(ems, axis=0).max())
    block = font.block(version.texts, version.align, version.outline_width if version.outline else 0.0, em)
    letters = font.drawn(version.texts, block, em, round(stroke * font.capital * em))
    # from a fine pixel of the box to a pixel of `letters`, where y points down
    to_text = np.linalg.inv(ems) / fine
    size = np.array([letters.width / layout.width, -letters.height / layout.height])
    turn = size[:, None] * to_text
    start = size * (np.linalg.inv(ems) @ ((left, top) - middle)) + (letters.width / 2.0, letters.height / 2.0)
    affine = (*turn[0].tolist(), float(start[0]), *turn[1].tolist(), float(start[1]))
    shape = ((right - left) * fine, (bottom - top) * fine)
    shown = letters.transform(shape, Image.Transform.AFFINE, affine, Image.Resampling.BILINEAR).reduce(fine)
    return np.asarray(shown, np.float64) / 255.0


def _over(ground: Pixels, colour: tuple[int, int, int], share: Floats) -> Pixels:
    """Composite a colour over pixels. Source: Porter and Duff 1984, "Compositing Digital Images", operator "over".

    Args:
        ground: The pixels.
        colour: The colour.
        share: Opacity of the colour at each pixel, (h, w).
    """
    below = ground[..., 3] / 255.0 * (1.0 - share)
    opacity = share + below
    mixed = share[..., None] * np.array(colour) + below[..., None] * ground[..., :3]
    shown = np.divide(mixed, opacity[..., None], out=ground[..., :3].astype(np.float64), where=opacity[..., None] > 0.0)
    return np.asarray(np.rint(np.concatenate([shown, 255.0 * opacity[..., None]], axis=-1)), np.uint8)
