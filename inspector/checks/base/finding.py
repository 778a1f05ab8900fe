"""A finding: a check's report about one problem, over all frames that have the problem."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from fractions import Fraction

from inspector.names import Name


class Severity(IntEnum):
    """The severity of a finding. Severities can be compared.

    Attributes:
        NOTE: A fact that is worth knowing.
        WARNING: The picture is probably wrong; check it by eye.
        ERROR: The import fails, or the picture is certainly wrong.

    Example:
        >>> Severity.ERROR > Severity.WARNING, Severity.ERROR.word
        (True, 'error')
    """

    NOTE = 0
    WARNING = 1
    ERROR = 2

    @property
    def word(self) -> str:
        """The severity in lower case, such as "error"."""
        return self.name.lower()

    @property
    def sign(self) -> str:
        """The letter that screens and reports show for the severity, so that colour is never the only sign."""
        return {"NOTE": "n", "WARNING": "W", "ERROR": "E"}[self.name]


@dataclass(frozen=True, slots=True)
class Where:
    """A location in a file.

    Attributes:
        file: Path of the file, relative to the inspected folder.
        line: Line number, from 1; None if the location is the whole file, or if the format has no lines.
        element: The element or statement at the location, such as "face 12" (counted from 1); None if there is none.

    Example:
        >>> found = inspect("harbour/kelp_broken")
        >>> where = next(one for one in found.inspections[0].findings if one.check == "texture-missing").where[0]
        >>> str(where.file), where.line
        ('materials/kelp.mtl', 7)
    """

    file: Name
    line: int | None = None
    element: str | None = None

    def __post_init__(self) -> None:
        if self.line == 0:
            object.__setattr__(self, "line", None)


@dataclass(frozen=True, slots=True)
class Finding:
    """A finding of a check.

    Attributes:
        check: Id of the check.
        severity: Severity of the finding.
        message: The problem in words, with control characters escaped.
        frames: Numbers of the frames that have the problem, ascending.
        where: Locations; only the first few if there are many.
        numbers: Values that support the finding, all finite.
        fixes: Ids of the fixes for the finding.
        reason: The reason that the delivery rules give for this check or requirement; "" if they give none.

    Example:
        >>> found = inspect("harbour/kelp_broken", frames=(1, 15))
        >>> finding = found.inspections[0].findings[-1]
        >>> finding.severity.word, finding.check, [int(number) for number in finding.frames], finding.fixes
        ('error', 'missing-frames', [13, 14, 15], ('fill-frames',))
    """

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
        """A key that distinguishes the findings of one check on the same frame."""
        return self.check, self.numbers.get("rule", self.numbers.get("left_out"))
