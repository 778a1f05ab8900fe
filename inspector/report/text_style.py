"""Lay out text: width, colour, and characters that the terminal can show."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import ClassVar

from inspector.checks.base.finding import Severity

_COLOURS = {Severity.ERROR: "1;31", Severity.WARNING: "33", Severity.NOTE: "36"}
"""Parameters of the control sequence that sets colours (Select Graphic Rendition, ECMA-48), by severity: bold red,
yellow, and cyan."""

_LONGEST_WORD = 3
"""Maximum length of a word, in lines. The middle of a longer word is cut out."""


@dataclass(frozen=True, slots=True)
class TextStyle:
    """The layout of text for people.

    Attributes:
        width: Number of cells per line.
        colour: Whether the terminal accepts colour sequences.
        ascii: Whether the terminal shows only ASCII.
    """

    width: int = 80
    colour: bool = False
    ascii: bool = False

    SEVERITY_CELLS: ClassVar[int] = len("E warning ")

    def severity(self, severity: Severity) -> str:
        """Return the sign and the word for a severity, padded to SEVERITY_CELLS, and coloured if `colour` is set."""
        word = f"{severity.sign} {severity.word}".ljust(self.SEVERITY_CELLS)
        return f"\x1b[{_COLOURS[severity]}m{word}\x1b[0m" if self.colour else word

    def strong(self, text: str) -> str:
        """Return the text as `plain` does, but in bold if `colour` is set."""
        return f"\x1b[1m{self.plain(text)}\x1b[0m" if self.colour else self.plain(text)

    def plain(self, text: str) -> str:
        """Return the text, with escapes in place of characters that the terminal can't show."""
        return text.encode("ascii", "backslashreplace").decode() if self.ascii else text

    def wrap(self, text: str, indent: str = "", hang: str | None = None) -> list[str]:
        """Wrap text into lines of at most `width` cells. A line is longer only if a single word doesn't fit."""
        lines = [indent]
        after = " " * len(indent) if hang is None else hang
        gap = ""
        for word in self.plain(text).split():
            shown = _cut(word, _LONGEST_WORD * self.width)
            if gap and cells(lines[-1]) + 1 + cells(shown) > self.width:
                lines.append(after)
                gap = ""
            lines[-1] += gap + shown
            gap = " "
        return lines


def cells(text: str) -> int:
    """Return the width of a text in terminal cells.

    A wide character (Unicode Standard Annex 11) takes two cells, and a combining character none.
    """
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(character) else 1 + (unicodedata.east_asian_width(character) in "WF")
        for character in text
    )


def _cut(word: str, most: int) -> str:
    return word if len(word) <= most else f"{word[: most // 2]}...{word[-most // 2 :]}"
