"""The user's statements about a folder. Nothing here is derived from mesh files."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from inspector.rules.model import Rules

SIDES = ("front", "back", "right", "left", "above", "below")
"""Words for the sides of an object. Left and right are as seen by a viewer in front of the object."""

_FRACTION = re.compile(r"-?[0-9]{1,30}([./][0-9]{1,30})?")


@dataclass(frozen=True, slots=True)
class Settings:
    """The user's statements about a folder. Unless another meaning is given, None means that a value was not stated.

    Attributes:
        expected: First and last frame of the expected range.
        size: Longest side of the reference frame's bounding box, in scene units.
        textures: Further folders that may be read.
        reference: Number of the reference frame.
        rate: Frames per second, for the hand-off note.
        uvs_from: A mesh file whose UVs a fix may copy.
        invent_at_most: Maximum number of frames that one fix may add to a sequence; if None, at most a tenth of the
            sequence's frames, and at most three frames in a row.
        rules: Delivery rules of the receiving side.
    """

    expected: tuple[Fraction, Fraction] | None = None
    size: float | None = None
    textures: tuple[Path, ...] = ()
    reference: Fraction | None = None
    rate: Fraction | None = None
    uvs_from: Path | None = None
    invent_at_most: int | None = None
    rules: Rules = field(default_factory=Rules)

    def under(self, rules: Rules) -> Settings:
        """Return these settings with delivery rules added. The user's statements take precedence over the rules."""
        return replace(
            self,
            rules=rules,
            expected=self.expected or rules.frames,
            size=self.size or rules.size,
            rate=self.rate or rules.rate,
        )

    def without_rules(self) -> Settings:
        """Return these settings without the delivery rules and the values that the rules supplied."""
        rules = self.rules
        return replace(
            self,
            rules=Rules(),
            expected=None if self.expected == rules.frames else self.expected,
            size=None if self.size == rules.size else self.size,
            rate=None if self.rate == rules.rate else self.rate,
        )


def frame_text(number: Fraction) -> str:
    """Write a frame number for people: 7, or 1.5 for a sub-frame."""
    return str(number.numerator) if number.denominator == 1 else f"{float(number):g}"


def frame_json(number: Fraction) -> int | float:
    """Convert a frame number for JSON: an integer, or a float for a sub-frame."""
    return number.numerator if number.denominator == 1 else float(number)


def fraction_of_json(given: object) -> Fraction:
    """Read a frame number or a rate from JSON.

    Args:
        given: A number, or a string that contains a number or a fraction, such as 24000/1001.

    Raises:
        ValueError: The value is neither a number nor such a string, or is a string such as `1e999999999`, whose
            conversion would take minutes.
        ZeroDivisionError: The denominator is 0.
    """
    if isinstance(given, str) and not _FRACTION.fullmatch(given):
        raise ValueError(f"not a number: {given[:40]}")
    return Fraction(str(given))
