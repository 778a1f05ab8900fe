"""Fit captions into a lettering box, one at a time, and measure the height of their letters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.lettering.caption_font import EM, CaptionFont, own_font
from inspector.lettering.legibility import Legibility
from inspector.names import safe


@dataclass(frozen=True, slots=True)
class CaptionFit:
    """A caption on one line in the lettering box, as large as possible.

    Attributes:
        text: The caption.
        share: Height of the capitals, as a fraction of the height of the box.
        heights: Smallest and largest height of a capital in the picture, in pixels, over the frames in which any part
            of the box is visible; None if there are no such frames.
        ranges: First and last frame of each run of consecutive frames in which the caption can be read.
    """

    text: str
    share: float
    heights: tuple[float, float] | None
    ranges: tuple[tuple[Fraction, Fraction], ...]

    @property
    def fits(self) -> bool:
        """Whether the caption can be read in at least one frame."""
        return bool(self.ranges)


def fit_captions(texts: Sequence[str], seen: Legibility, aspect: float) -> tuple[CaptionFit, ...]:
    """Fit each caption separately into a lettering box, in the bold font that comes with this tool.

    Args:
        texts: The captions, each of which is set on one line, without spaces at its ends.
        seen: The visibility of the lettering box.
        aspect: Width over height of the texture.
    """
    ratio = seen.rectangle.width / seen.rectangle.height * aspect
    font = own_font()
    return tuple(_fitted(text, seen, ratio, font) for text in texts)


def _fitted(text: str, seen: Legibility, ratio: float, font: CaptionFont) -> CaptionFit:
    """Fit one caption into the lettering box.

    Args:
        text: The caption.
        seen: The visibility of the lettering box.
        ratio: Width over height of the lettering box, in pixels of the texture.
        font: The font.
    """
    line = safe(text).strip()
    width = font.block([line], "left", 0.0).width / (font.capital * EM) if line else 0.0
    share = min(1.0, ratio / width) if width > 0.0 else 1.0
    heights = seen.height[np.isfinite(seen.height)] * share
    span = (float(heights.min()), float(heights.max())) if len(heights) else None
    return CaptionFit(text, share, span, seen.ranges(share))
