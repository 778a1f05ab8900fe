"""Types for unmet requirements of the delivery rules, and for the functions that find them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Where


@dataclass(frozen=True, slots=True)
class Breach:
    """A requirement of the delivery rules that isn't met.

    Attributes:
        message: The problem and the requirement, in words.
        indices: Indices, in `series.facts`, of the frames that don't meet the requirement.
        found: The value that was found or, if there is none, the number of frames, textures or materials that don't
            meet the requirement. 0 if captions can't be laid out, or if their frames can't be read.
        where: Locations; only the first few if there are many.
        fixes: Ids of the fixes for the problem.
    """

    message: str
    indices: list[int]
    found: float | str
    where: tuple[Where, ...] = ()
    fixes: tuple[str, ...] = ()


Judge = Callable[[CheckContext, Any], Iterator[Breach]]
"""Function that compares a sequence with the value of one key of the delivery rules (see rules/rule_keys.py), and
yields the requirements that aren't met.
"""
