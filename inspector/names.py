"""Names and other text from files and folders: raw bytes for matching, and a form that is safe to show."""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

# Categories of characters that hide text, or that could control a terminal or a report: controls (C0, C1), formats
# (bidi overrides, zero width), surrogates (undecodable bytes), private use, line and paragraph separators (Unicode 15,
# table 12).
_UNSAFE_CATEGORIES = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def safe(text: str) -> str:
    r"""Escape every character that could control a screen or hide text, such as `\x1b` and `\u202e`. Undecodable bytes,
    given as surrogate escapes (os.fsdecode), become `\xNN`.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_safe_character(character) for character in text)


def _safe_character(character: str) -> str:
    if unicodedata.category(character) not in _UNSAFE_CATEGORIES:
        return character
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:
        return f"\\x{code - 0xDC00:02x}"
    if code <= 0xFF:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


def counted(number: int, thing: str, things: str = "") -> str:
    """Write a number with its noun: `1 error`, `1,200 errors`.

    Args:
        number: The number.
        thing: The noun in the singular.
        things: The plural; "" to add an s to the singular.
    """
    return f"{number:,} {thing if number == 1 else things or thing + 's'}"


def amount(value: float, thing: str, form: str = ".4g") -> str:
    """Write a measured value with its unit: `1 unit`, `0.25 units`.

    Args:
        value: The value.
        thing: The unit in the singular.
        form: The format specification of the value.
    """
    shown = f"{value:{form}}"
    return f"{shown} {thing if shown == '1' else thing + 's'}"


def joined_words(words: Sequence[str], conjunction: str) -> str:
    """Join words for a message: `a`, `a or b`, `a, b or c`.

    Args:
        words: The words.
        conjunction: The word before the last word: "and" or "or".
    """
    return f" {conjunction} ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


@dataclass(frozen=True, order=True)
class Name:
    """A name exactly as it is in a file or in the file system.

    Attributes:
        raw: The bytes of the name, for matching and writing. Screens show `display`; JSON contains `text`.
    """

    raw: bytes

    @classmethod
    def from_path(cls, path: str | os.PathLike[str]) -> Name:
        """Make a name from a path or a file name."""
        return cls(os.fsencode(path))

    @cached_property
    def display(self) -> str:
        """The name in a form that is safe on any screen."""
        return safe(self.raw.decode("utf-8", "surrogateescape"))

    @property
    def text(self) -> str:
        """The name for JSON and paths: UTF-8 with surrogate escapes, so that no byte is lost. It is not safe to show on
        a screen.
        """
        return self.raw.decode("utf-8", "surrogateescape")

    def __str__(self) -> str:
        return self.display
