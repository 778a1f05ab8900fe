"""A number that decides what a check reports, with its unit and its reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

T_co = TypeVar("T_co", covariant=True)


@dataclass(frozen=True, eq=False)
class Threshold(Generic[T_co]):
    """A value with which a check compares a measurement.

    A threshold is defined once: in the check that uses it or, if several checks share it, in the module that measures.

    Attributes:
        name: Lower-case words with hyphens, as used in delivery rules and in `explain`.
        value: A number, several numbers, or a mapping of numbers.
        why: What the value limits, and why it has this value, with a source or "common practice, no source".
        unit: Unit of the value; "" for a ratio of equal units.
        settable: Whether delivery rules can set it. If so, the value is a single number above 0, and the check reads it
            through `CheckContext.limit`, never through `value`.
    """

    name: str
    value: T_co
    why: str
    unit: str = ""
    settable: bool = False
