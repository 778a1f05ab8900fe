"""Read the values of options from text. For an invalid value, each function raises an ArgumentTypeError."""

from __future__ import annotations

import math
import re
from argparse import ArgumentTypeError
from collections.abc import Callable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import TypeVar

from inspector.rules import values as stated
from inspector.sequence.discovery.settings import SIDES

_FRAME = re.compile(r"\d+(?:\.\d+)?", re.ASCII)
_PART = re.compile(r"(\d{1,6})/(\d{1,6})", re.ASCII)
_COUNT = re.compile(r"\d{1,6}", re.ASCII)
_COMMA = re.compile(r",(?=\w+=)", re.ASCII)

_HALF_TURN = 180.0

FixWords = tuple[str, Mapping[str, object]]
"""Id of a fix and its parameters."""


T = TypeVar("T")


def _stated(read: Callable[[str], T]) -> Callable[[str], T]:
    """Return a function that calls `read` and raises ArgumentTypeError instead of `read`'s ValueError.

    `read` raises ValueError, because it is also used for rules files. argparse shows only the message of an
    ArgumentTypeError.
    """

    def option(text: str) -> T:
        try:
            return read(text)
        except ValueError as error:
            raise ArgumentTypeError(str(error)) from error

    return option


frame_range = _stated(stated.frame_range)
positive = _stated(stated.positive)
rate = _stated(stated.rate)
picture_size = _stated(stated.picture_size)


def frame(text: str) -> Fraction:
    """Read a frame number: `7` or, for a sub-frame, `1.5`."""
    if not _FRAME.fullmatch(text):
        raise ArgumentTypeError(f"expected a frame number, such as 7, but got {text}")
    return Fraction(text)


def part(text: str) -> tuple[int, int]:
    """Read the number of a part and the number of parts: `3/8` is the third of eight parts."""
    match = _PART.fullmatch(text)
    number, of = (int(match[1]), int(match[2])) if match else (0, 0)
    if not 1 <= number <= of:
        raise ArgumentTypeError(f"expected a part, such as 3/8 (the third of eight parts), but got {text}")
    return number, of


def path(text: str) -> Path:
    """Read a path. Empty text, as from an unset variable, is refused, because it would mean the current folder."""
    if not text:
        raise ArgumentTypeError("expected a path, but the argument is empty")
    return Path(text)


def folder(text: str) -> Path:
    found = path(text)
    if not found.is_dir():
        raise ArgumentTypeError(f"{text} is not a folder")
    return found


def file(text: str) -> Path:
    """Read the path of an existing file, and make it absolute, so that a saved plan can be used from another folder."""
    found = path(text).absolute()
    if not found.is_file():
        raise ArgumentTypeError(f"{text} is not a file")
    return found


def fix(text: str) -> FixWords:
    """Read the id of a fix and its parameters: `scale:factor=0.01`. Numbers, `true` and `false` are converted.

    A comma ends a value only if `key=` follows, so that a value can be a list: `keep-objects:names=left,right`.
    """
    identifier, colon, pairs = text.partition(":")
    parameters = {}
    for pair in _COMMA.split(pairs) if colon else ():
        key, equals, value = pair.partition("=")
        if not (key and equals and value):
            raise ArgumentTypeError(f"expected FIX:key=value, such as scale:factor=0.01, but got {text}")
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
    """Read a side, such as `above`, or a direction of any length, such as `1,0.5,0`."""
    if text in SIDES:
        return text
    numbers = _numbers(text, 3)
    if numbers is None or not any(numbers):
        raise ArgumentTypeError(f"expected a side ({', '.join(SIDES)}) or a direction, such as 1,0.5,0, but got {text}")
    x, y, z = numbers
    return x, y, z


def rectangle(text: str) -> tuple[float, float, float, float]:
    """Read the left, bottom, right and top sides of a box: `0.1,0.2,0.5,0.4`."""
    numbers = _numbers(text, 4)
    if numbers is None or not (numbers[0] < numbers[2] and numbers[1] < numbers[3]):
        raise ArgumentTypeError(
            f"expected LEFT,BOTTOM,RIGHT,TOP, such as 0.1,0.2,0.5,0.4 (LEFT < RIGHT, BOTTOM < TOP), but got {text}"
        )
    left, bottom, right, top = numbers
    return left, bottom, right, top


def count(text: str) -> int:
    """Read a positive integer."""
    if not _COUNT.fullmatch(text) or not int(text):
        raise ArgumentTypeError(f"expected a whole number above 0, such as 12, but got {text}")
    return int(text)


def whole_frame(text: str) -> int:
    """Read a whole frame number, 0 or higher."""
    if not _COUNT.fullmatch(text):
        raise ArgumentTypeError(f"expected a whole frame number, such as 1001, but got {text}")
    return int(text)


def field_of_view(text: str) -> float:
    """Read an angle above 0 and below 180 degrees."""
    value = positive(text)
    if value >= _HALF_TURN:
        raise ArgumentTypeError(f"expected an angle below 180 degrees, such as 30, but got {text}")
    return value


def stretch(text: str) -> float:
    """Read a factor above 1."""
    value = positive(text)
    if value <= 1.0:
        raise ArgumentTypeError(f"expected a factor above 1, such as 1.25, but got {text}")
    return value


def _numbers(text: str, count: int) -> tuple[float, ...] | None:
    """Read `count` finite numbers separated by commas. Return None for any other text."""
    try:
        numbers = tuple(float(part) for part in text.split(","))
    except ValueError:
        return None
    return numbers if len(numbers) == count and all(map(math.isfinite, numbers)) else None
