"""Read values from the text of an option or of a rules file. Invalid text raises a ValueError that describes the
expected value."""

from __future__ import annotations

import math
import re
from fractions import Fraction

from inspector import limits
from inspector.units import METRES

STATED_FRAMES = 1_000_000
"""Maximum number of frames in a stated range: over eleven hours at 24 fps."""

_RANGE = re.compile(r"(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)", re.ASCII)
_SIZE = re.compile(r"(\d{1,5})x(\d{1,5})", re.ASCII)
_RATE = re.compile(r"\d+(?:\.\d+|/\d+)?", re.ASCII)
_LENGTH = re.compile(rf"(\S+?) ?({'|'.join(METRES)})", re.ASCII)


def frame_range(text: str) -> tuple[Fraction, Fraction]:
    """Read the first and the last frame from a text such as `1-240`.

    Raises:
        ValueError: The text doesn't have this form, the last frame is before the first, or the range is too long.
    """
    match = _RANGE.fullmatch(text)
    if not match:
        raise ValueError(f"expected the first and last frame, such as 1-240, but got {text}")
    first, last = Fraction(match[1]), Fraction(match[2])
    if first > last:
        raise ValueError(f"the last frame is before the first; did you mean {match[2]}-{match[1]}?")
    if last - first >= STATED_FRAMES:
        raise ValueError(f"expected a range of at most {STATED_FRAMES:,} frames, but got {text}")
    return first, last


def picture_size(text: str) -> tuple[int, int]:
    """Read width and height in pixels from a text such as `1920x1080`.

    Raises:
        ValueError: The text doesn't have this form, a side is 0, or there are too many pixels.
    """
    match = _SIZE.fullmatch(text)
    width, height = (int(match[1]), int(match[2])) if match else (0, 0)
    if not (width and height and width * height <= limits.DRAWN_PIXELS):
        most = f"{limits.DRAWN_PIXELS:,}"
        raise ValueError(
            f"expected width and height, such as 1920x1080, with at most {most} pixels in total, but got {text}"
        )
    return width, height


def positive(text: str) -> float:
    """Read a finite number above 0.

    Raises:
        ValueError: The text is not such a number.
    """
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"expected a number above 0, such as 1.8, but got {text}")
    return value


def rate(text: str) -> Fraction:
    """Read frames per second from a text such as `24`, `23.976` or `24000/1001`.

    Raises:
        ValueError: The text has none of these forms, or the value is not above 0.
    """
    try:
        value = Fraction(text) if _RATE.fullmatch(text) else Fraction(0)
    except ZeroDivisionError:
        value = Fraction(0)
    if value <= 0:
        raise ValueError(f"expected a frame rate, such as 24, 23.976 or 24000/1001, but got {text}")
    return value


def metres(text: str) -> float:
    """Read a length with its unit, such as `1.8 m`, and convert it to metres.

    Raises:
        ValueError: The text doesn't have this form, or the value is not a finite number above 0.
    """
    match = _LENGTH.fullmatch(text)
    if not match:
        raise ValueError(f'expected a length, such as "1.8 m" (units: {", ".join(METRES)}), but got {text}')
    return positive(match[1]) * float(METRES[match[2]])
