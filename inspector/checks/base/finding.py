"""What a check says: one cause, over as many frames as it has."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from fractions import Fraction

from inspector.names import Name


class Severity(IntEnum):
    """ERROR: the import fails or the picture is wrong. WARNING: it may be, a person should look. NOTE: a fact."""

    NOTE = 0
    WARNING = 1
    ERROR = 2

    @property
    def word(self) -> str:
        return self.name.lower()

    @property
    def sign(self) -> str:
        """The letter that stands for it on every screen and in every report: never colour alone."""
        return {"NOTE": "n", "WARNING": "W", "ERROR": "E"}[self.name]


@dataclass(frozen=True, slots=True)
class Where:
    """A place: file (relative to the inspected folder), line from 1, element in plain words ("face 12").

    A line of 0, as places in formats without lines have it, becomes None.
    """

    file: Name
    line: int | None = None
    element: str | None = None

    def __post_init__(self) -> None:
        if self.line == 0:
            object.__setattr__(self, "line", None)


@dataclass(frozen=True, slots=True)
class Finding:
    """message is for people and safe on any screen; numbers (JSON-able, finite) prove it; fixes are fix ids; reason: of
    the delivery rule that it is held to, "" without one."""

    check: str
    severity: Severity
    message: str
    frames: tuple[Fraction, ...] = ()
    where: tuple[Where, ...] = ()
    numbers: Mapping[str, float | int | str | None] = field(default_factory=dict)
    fixes: tuple[str, ...] = ()
    reason: str = ""

    @property
    def cause(self) -> tuple[str, object]:
        """What tells findings of one check on one frame apart: a check of demands has one for each, and so has one of
        what is left out."""
        return self.check, self.numbers.get("rule", self.numbers.get("left_out"))
