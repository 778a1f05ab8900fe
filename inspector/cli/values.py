"""The values of options, from the words of the command line. Each raises ArgumentTypeError with what is expected."""

from __future__ import annotations

import math
import re
from argparse import ArgumentTypeError
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path

_RANGE = re.compile(r"(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)", re.ASCII)
_FRAME = re.compile(r"\d+(?:\.\d+)?", re.ASCII)
_PART = re.compile(r"(\d{1,6})/(\d{1,6})", re.ASCII)
_RATE = re.compile(r"\d+(?:\.\d+|/\d+)?", re.ASCII)

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
