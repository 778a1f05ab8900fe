"""Which of several captions fit into one rectangle of the texture, and how high their letters come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.lettering.legibility import Legibility

_LETTER_ADVANCE = 0.85
"""Mean width of a letter with its spacing over the height of a capital: about 0.6 em over 0.7 em in upright typefaces
without serifs (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class CaptionFit:
    """A caption on one line across the rectangle, as large as it fits.

    share: height of its capitals over the rectangle's. heights: least and largest height of a capital in the picture,
    pixels, over the frames in which any of it is seen; None without. ranges: first and last frame of each run in
    which it can be read.
    """

    text: str
    share: float
    heights: tuple[float, float] | None
    ranges: tuple[tuple[Fraction, Fraction], ...]

    @property
    def fits(self) -> bool:
        """Whether it can be read in any frame."""
        return bool(self.ranges)


def fit_captions(
    texts: Sequence[str], seen: Legibility, aspect: float, advance: float = _LETTER_ADVANCE
) -> tuple[CaptionFit, ...]:
    """Each caption in the rectangle of `seen`.

    aspect: the texture's width over height; advance: a letter's mean width, spacing included, over a capital's height.
    """
    ratio = seen.rectangle.width / seen.rectangle.height * aspect
    return tuple(_fitted(text, seen, ratio, advance) for text in texts)


def _fitted(text: str, seen: Legibility, ratio: float, advance: float) -> CaptionFit:
    """ratio: width over height of the rectangle in pixels of the texture."""
    letters = len(text.strip())
    share = min(1.0, ratio / (letters * advance)) if letters else 1.0
    heights = seen.height[np.isfinite(seen.height)] * share
    span = (float(heights.min()), float(heights.max())) if len(heights) else None
    return CaptionFit(text, share, span, seen.ranges(share))
