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
        message: The value that was found and the value that the rules require.
        indices: Indices of the frames in `series.facts`.
        found: The value that was found.
        where: Places; only the first few if there are many.
        fixes: Ids of the fixes that can correct it.
    """

    message: str
    indices: list[int]
    found: float | str
    where: tuple[Where, ...] = ()
    fixes: tuple[str, ...] = ()


Judge = Callable[[CheckContext, Any], Iterator[Breach]]
"""Compares a sequence with the value that the rules require for one key of rules/rule_keys.py."""
