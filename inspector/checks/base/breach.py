"""A requirement of the delivery rules that isn't met."""

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
        message: The problem, and the requirement of the rules, in words.
        indices: Indices, in `series.facts`, of the frames that don't meet the requirement.
        found: The value that was found. If there is no value, the number of frames, textures or materials at fault; 0
            if captions can't be laid out.
        where: Places; only the first few if there are many.
        fixes: Ids of the fixes for the problem.
    """

    message: str
    indices: list[int]
    found: float | str
    where: tuple[Where, ...] = ()
    fixes: tuple[str, ...] = ()


Judge = Callable[[CheckContext, Any], Iterator[Breach]]
"""Compares a sequence with the value that the delivery rules give for one key of rules/rule_keys.py, and yields the
requirements that aren't met."""
