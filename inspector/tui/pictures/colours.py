"""The colours of a terminal, and the conversion of pictures to these colours."""

from __future__ import annotations

import enum
from functools import cache

import numpy as np
import numpy.typing as npt
from rich.color import Color, ColorType
from rich.style import Style

from inspector.picture.canvas import GROUND, Picture

Codes = npt.NDArray[np.int32]
"""Colours as numbers in a palette."""


MIDDLE = 0.179
"""Relative luminance of a background on which black and white have the same contrast ratio, 4.6."""


def luminance(colour: tuple[int, int, int]) -> float:
    """Return the relative luminance of an sRGB colour: 0 for black, 1 for white (WCAG 2.2, "relative luminance")."""
    parts = [part / 255.0 for part in colour]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


class Depth(enum.Enum):
    """The sets of colours that terminals show. The values, except that of NONE, are Rich's names for these sets."""

    TRUE = "truecolor"
    INDEXED = "256"
    SIXTEEN = "standard"
    NONE = "none"


def depth_of(color_system: str | None, no_color: bool) -> Depth:
    """Decide which colours to use. NO_COLOR takes precedence (https://no-color.org).

    Args:
        color_system: The terminal's colours, as Rich names them; None if it has none.
        no_color: Whether the user has set NO_COLOR.
    """
    return Depth.NONE if no_color or color_system is None else Depth(color_system)


_SIXTEEN = np.array(
    [
        *([0, 0, 0], [205, 0, 0], [0, 205, 0], [205, 205, 0], [0, 0, 238], [205, 0, 205], [0, 205, 205]),
        *([229, 229, 229], [127, 127, 127], [255, 0, 0], [0, 255, 0], [255, 255, 0], [92, 92, 255], [255, 0, 255]),
        *([0, 255, 255], [255, 255, 255]),
    ]
)
"""The sixteen standard colours of xterm, (16, 3). Source: xterm's resource file XTerm-col.ad, quoted from memory. Other
terminals have other colours, but in the same order of lightness."""


def seen(colour: Color) -> tuple[int, int, int]:
    """Return the red, green and blue values, from 0 to 255, of a colour as a terminal shows it. The standard colours
    have xterm's values."""
    if colour.type is ColorType.STANDARD and colour.number is not None:
        red, green, blue = _SIXTEEN[colour.number].tolist()
        return red, green, blue
    red, green, blue = colour.get_truecolor()
    return red, green, blue


_CUBE = np.array([0, 95, 135, 175, 215, 255])
"""Levels of red, green and blue in colours 16 to 231 of 256. These colours are all combinations of the levels (xterm's
256colres.h, from memory)."""

_GREYS = 8 + 10 * np.arange(24)
"""Levels of the greys, which are colours 232 to 255 of 256 (xterm's 256colres.h, from memory)."""

_BAYER = np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]])
"""The 4 x 4 matrix of thresholds for patterns of dots (Bayer 1973, "An optimum method for two-level rendition of
continuous-tone pictures")."""


def thresholds(height: int, width: int) -> npt.NDArray[np.float32]:
    """Make a threshold for each pixel, between 0 and 1, (height, width). A value above the threshold becomes a dot."""
    tiled = np.tile(_BAYER, (-(-height // 4), -(-width // 4)))[:height, :width]
    return np.asarray((tiled + 0.5) / 16.0, np.float32)


class Palette:
    """The colours of a terminal with a colour depth other than Depth.NONE. The colours of a picture are reduced to 5
    bits per channel."""

    def __init__(self, depth: Depth) -> None:
        self._depth = depth
        self._spread = 72.0 if depth is Depth.SIXTEEN else 0.0
        self._reduced = _reduced(depth)
        self._colours: dict[int, Color] = {}
        self._styles: dict[tuple[int | None, int], Style] = {}

    def codes(self, picture: Picture) -> Codes:
        """For each pixel of a picture, (h, w, 3), find the number of the nearest colour, (h, w).

        With sixteen colours, patterns of two colours imitate the shades between them, and the background becomes black.
        """
        ground = None
        if self._spread:
            ground = (picture == np.array(GROUND, np.uint8)).all(axis=2)
            shift = (thresholds(*picture.shape[:2]) - 0.5) * self._spread
            picture = np.clip(picture + shift[..., None], 0, 255).astype(np.uint8)
        red, green, blue = ((picture[..., channel].astype(np.int32) * 31 + 127) // 255 for channel in range(3))
        codes = self._reduced[red << 10 | green << 5 | blue]
        return np.asarray(codes if ground is None else np.where(ground, 0, codes), np.int32)

    def style(self, ink: int | None, ground: int) -> Style:
        """Return the style of characters in the colour `ink` on a background in the colour `ground`. For spaces, `ink`
        is None."""
        known = self._styles.get((ink, ground))
        if known is None:
            if len(self._styles) > 1 << 15:
                self._styles.clear()
            known = Style.from_color(None if ink is None else self._colour(ink), self._colour(ground))
            self._styles[ink, ground] = known
        return known

    def _colour(self, code: int) -> Color:
        known = self._colours.get(code)
        if known is None:
            levels = tuple(part * 255 // 31 for part in (code >> 10, code >> 5 & 31, code & 31))
            known = Color.from_rgb(*levels) if self._depth is Depth.TRUE else Color.from_ansi(code)
            self._colours[code] = known
        return known


@cache
def palette_of(depth: Depth) -> Palette:
    """Return the palette for a colour depth other than Depth.NONE. Each palette is made only once."""
    return Palette(depth)


def _reduced(depth: Depth) -> Codes:
    """Return the number of the nearest terminal colour for each colour with 5 bits per channel, (32768,)."""
    every = np.arange(1 << 15, dtype=np.int32)
    if depth is Depth.TRUE:
        return every
    wanted = np.stack([every >> 10, every >> 5 & 31, every & 31], axis=-1)
    wanted = wanted * 255 // 31
    if depth is Depth.SIXTEEN:
        return np.asarray(((wanted[:, None] - _SIXTEEN) ** 2).sum(axis=2).argmin(axis=1), np.int32)
    level = np.abs(wanted[..., None] - _CUBE).argmin(axis=2)
    grey = np.abs(wanted.mean(axis=1)[:, None] - _GREYS).argmin(axis=1)
    by_cube = ((_CUBE[level] - wanted) ** 2).sum(axis=1)
    by_grey = ((_GREYS[grey][:, None] - wanted) ** 2).sum(axis=1)
    return np.asarray(np.where(by_grey < by_cube, 232 + grey, 16 + level @ [36, 6, 1]), np.int32)
