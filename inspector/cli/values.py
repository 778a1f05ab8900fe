"""The values of options, from the words of the command line. Each raises ArgumentTypeError with what is expected."""

from __future__ import annotations

import math
import re
from argparse import ArgumentTypeError
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path

from inspector import limits
from inspector.sequence.settings import SIDES

_RANGE = re.compile(r"(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)", re.ASCII)
_FRAME = re.compile(r"\d+(?:\.\d+)?", re.ASCII)
_PART = re.compile(r"(\d{1,6})/(\d{1,6})", re.ASCII)
_SIZE = re.compile(r"(\d{1,5})x(\d{1,5})", re.ASCII)
_COUNT = re.compile(r"\d{1,6}", re.ASCII)
_RATE = re.compile(r"\d+(?:\.\d+|/\d+)?", re.ASCII)

_HALF_TURN = 180.0

FixWords = tuple[str, Mapping[str, object]]
"""Id of a fix and its parameters."""


def frame_range(text: str) -> tuple[Fraction, Fraction]:
    """`1-240` -> first and last frame."""
    match = _RANGE.fullmatch(text)
    if not match:
        raise ArgumentTypeError(f"first and last frame are expected, as in 1-240, not {text}")
    first, last = Fraction(match[1]), Fraction(match[2])
    if first > last:
        raise ArgumentTypeError(f"the first frame comes first: {match[2]}-{match[1]}?")
    return first, last


def frame(text: str) -> Fraction:
    """`7` or, for a sub-frame, `1.5`."""
    if not _FRAME.fullmatch(text):
        raise ArgumentTypeError(f"a frame number is expected, as in 7, not {text}")
    return Fraction(text)


def part(text: str) -> tuple[int, int]:
    """`3/8` -> the third of eight parts."""
    match = _PART.fullmatch(text)
    number, of = (int(match[1]), int(match[2])) if match else (0, 0)
    if not 1 <= number <= of:
        raise ArgumentTypeError(f"a part is expected, as in 3/8 for the third of eight, not {text}")
    return number, of


def whole(text: str) -> int:
    """A whole number from 1."""
    if not (text.isascii() and text.isdecimal() and len(text) < 10 and int(text) > 0):
        raise ArgumentTypeError(f"a whole number from 1 is expected, as in 30, not {text}")
    return int(text)


def positive(text: str) -> float:
    """A finite number above 0."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value > 0):
        raise ArgumentTypeError(f"a number above 0 is expected, as in 1.8, not {text}")
    return value


def rate(text: str) -> Fraction:
    """Frames a second: `24`, `23.976` or `24000/1001`."""
    try:
        value = Fraction(text) if _RATE.fullmatch(text) else Fraction(0)
    except ZeroDivisionError:
        value = Fraction(0)
    if value <= 0:
        raise ArgumentTypeError(f"frames a second are expected, as in 24, 23.976 or 24000/1001, not {text}")
    return value


def folder(text: str) -> Path:
    """A folder that is there."""
    path = Path(text)
    if not path.is_dir():
        raise ArgumentTypeError(f"{text} is no folder")
    return path


def file(text: str) -> Path:
    """A file that is there, as an absolute path: a saved plan keeps it and may be used from another folder."""
    path = Path(text).absolute()
    if not path.is_file():
        raise ArgumentTypeError(f"{text} is no file")
    return path


def fix(text: str) -> FixWords:
    """`scale:factor=0.01` -> id and parameters; numbers and `true`, `false` become values, the rest stays text."""
    identifier, colon, pairs = text.partition(":")
    parameters = {}
    for pair in pairs.split(",") if colon else ():
        key, equals, value = pair.partition("=")
        if not (key and equals and value):
            raise ArgumentTypeError(f"FIX:key=value is expected, as in scale:factor=0.01, not {text}")
        parameters[key] = _parameter(value)
    return identifier, parameters


def _parameter(text: str) -> object:
    if text in ("true", "false"):
        return text == "true"
    for kind in (int, float):
        try:
            return kind(text)
        except ValueError:
            continue
    return text


def direction(text: str) -> str | tuple[float, float, float]:
    """`above` and the like, or `1,0.5,0` as a direction of any length."""
    if text in SIDES:
        return text
    numbers = _numbers(text, 3)
    if numbers is None or not any(numbers):
        raise ArgumentTypeError(f"one of {', '.join(SIDES)} is expected, or a direction, as in 1,0.5,0, not {text}")
    x, y, z = numbers
    return x, y, z


def picture_size(text: str) -> tuple[int, int]:
    """`1920x1080` -> width and height in pixels."""
    match = _SIZE.fullmatch(text)
    width, height = (int(match[1]), int(match[2])) if match else (0, 0)
    if not (width and height and width * height <= limits.DRAWN_PIXELS):
        most = f"{limits.DRAWN_PIXELS:,}"
        raise ArgumentTypeError(f"width and height are expected, as in 1920x1080, up to {most} pixels, not {text}")
    return width, height


def rectangle(text: str) -> tuple[float, float, float, float]:
    """`0.1,0.2,0.5,0.4` -> left, bottom, right, top."""
    numbers = _numbers(text, 4)
    if numbers is None or not (numbers[0] < numbers[2] and numbers[1] < numbers[3]):
        raise ArgumentTypeError(f"left,bottom,right,top of the texture are expected, as in 0.1,0.2,0.5,0.4, not {text}")
    left, bottom, right, top = numbers
    return left, bottom, right, top


def count(text: str) -> int:
    """A whole number above 0."""
    if not _COUNT.fullmatch(text) or not int(text):
        raise ArgumentTypeError(f"a whole number above 0 is expected, as in 12, not {text}")
    return int(text)


def field_of_view(text: str) -> float:
    """Degrees, above 0 and below 180."""
    value = positive(text)
    if value >= _HALF_TURN:
        raise ArgumentTypeError(f"degrees below 180 are expected, as in 30, not {text}")
    return value


def stretch(text: str) -> float:
    """A factor above 1."""
    value = positive(text)
    if value <= 1.0:
        raise ArgumentTypeError(f"a factor above 1 is expected, as in 1.25, not {text}")
    return value


def _numbers(text: str, count: int) -> tuple[float, ...] | None:
    """So many finite numbers with commas between; None for anything else."""
    try:
        numbers = tuple(float(part) for part in text.split(","))
    except ValueError:
        return None
    return numbers if len(numbers) == count and all(map(math.isfinite, numbers)) else None
